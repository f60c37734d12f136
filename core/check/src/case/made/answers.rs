//! What people did in a job, as the lines of an answers file.

use super::LEFT_OUT;
use super::people::People;
use super::used::Used;
use super::written::{entry, map, quoted, scalar};
use standpipe_job::{Address, Entry, Event, Input, Machine, Record, What};
use standpipe_procedure::FieldKind;
use standpipe_quantity::value::Value;

/// A reason was given, and is nobody's business here.
const AS_THEN: &str = "as on the job";

pub struct Told<'a> {
    pub machine: &'a Machine,
    pub used: &'a Used,
    pub people: &'a People,
    /// The file that stands for all evidence.
    pub evidence: String,
}

impl Told<'_> {
    /// The line, if it has one, and whether it names evidence. Notes, files beside entries and what a reader did are left out:
    /// what was read from it stands in the entries.
    pub fn line(
        &self,
        batch: &[Record],
        input: &Input,
        records: &[Record],
        kept: &mut Vec<(String, String)>,
    ) -> (Option<String>, bool) {
        let mut keys: Vec<(&str, String)> = Vec::new();
        let mut evidence = false;
        let plain = |word: &'static str, value: String| Some((word, value));
        let said = match &input.what {
            What::Enter(entered) => {
                keys.push(("step", entered.step.clone()));
                keys.extend(entered.item.as_ref().map(|item| ("item", scalar(item))));
                plain("enter", self.entered(batch, entered, kept))
            }
            What::Correct { entry, values, because: _ } => {
                let older = older(batch, *entry, records).map(|at| ("entry", quoted(&at.to_string())));
                let texts = values.iter().map(|(name, typed)| (name.as_str(), scalar(typed)));
                plain("correct", map(texts.chain([("because", quoted(AS_THEN))]).chain(older)))
            }
            What::Skip { .. } => plain("skip", quoted(AS_THEN)),
            What::Accept { .. } => plain("accept", map([("because", quoted(AS_THEN))])),
            What::Abandon { .. } => plain("abandon", quoted(AS_THEN)),
            What::Supply { path, typed, .. } => {
                plain("supply", map([(path.as_str(), scalar(typed)), ("source", quoted(AS_THEN))]))
            }
            What::Call { procedure } => plain("call", procedure.clone()),
            What::TakeBack => plain("take_back", "true".to_owned()),
            What::Pause => plain("pause", "true".to_owned()),
            What::Resume => plain("resume", "true".to_owned()),
            // What was given is run by the data of now.
            What::Open
            | What::Amend { .. }
            | What::Note(_)
            | What::Attach(_)
            | What::KeepLog(_)
            | What::Sample { .. }
            | What::Stream { .. }
            | What::Tick => None,
        };
        let Some(said) = said else { return (None, false) };
        keys.push(("at", quoted(&input.at.to_string())));
        keys.extend(input.entered_at.map(|at| ("entered_at", quoted(&at.to_string()))));
        keys.push(("by", self.people.id(&input.by)));
        keys.push(said);
        if let What::Enter(entered) = &input.what {
            let with: Vec<_> = entered.with.iter().map(|(name, with)| (name.as_str(), scalar(with))).collect();
            if !with.is_empty() {
                keys.push(("instruments", map(with)));
            }
            keys.extend(entered.witness.as_ref().map(|witness| ("witness", self.people.id(witness))));
            evidence = !entered.evidence.is_empty();
            if evidence {
                keys.push(("evidence", self.evidence.clone()));
            }
        }
        (Some(entry(&keys)), evidence)
    }

    fn entered(&self, batch: &[Record], entered: &Entry, kept: &mut Vec<(String, String)>) -> String {
        if entered.typed.is_empty() {
            return "done".to_owned();
        }
        let fields = self.machine.plan.step(&entered.step).map(|step| step.kind.fields()).unwrap_or_default();
        let values = batch.iter().find_map(|record| match &record.event {
            Event::Entered { values, .. } => Some(values),
            _ => None,
        });
        let typed = entered.typed.iter().map(|(name, typed)| {
            let kind = fields.iter().find(|field| field.name.value == *name).map(|field| &field.kind);
            let text = match (kind, values.and_then(|values| values.get(name))) {
                (Some(FieldKind::Person | FieldKind::Signature(_)), Some(Value::Text(person))) => {
                    self.people.id(person)
                }
                (Some(FieldKind::Person | FieldKind::Signature(_)), _) => self.people.id(typed),
                (Some(FieldKind::Text), _) if self.used.has(name) => {
                    kept.push((name.clone(), typed.clone()));
                    scalar(typed)
                }
                (Some(FieldKind::Text), _) => LEFT_OUT.to_owned(),
                _ => scalar(typed),
            };
            (name.as_str(), text)
        });
        map(typed.collect::<Vec<_>>())
    }
}

/// The address of the corrected entry, where another one came after it that entered the same.
fn older<'a>(batch: &[Record], entry: Option<u64>, records: &'a [Record]) -> Option<&'a Address> {
    let (entry, first) = (entry?, batch.first()?);
    let Event::Corrected { values, .. } = &first.event else { return None };
    let mut entered =
        records.iter().take_while(|record| record.seq < first.seq).filter_map(|record| match &record.event {
            Event::Entered { values: known, address, .. } if values.keys().any(|name| known.contains_key(name)) => {
                Some((record.seq, address))
            }
            _ => None,
        });
    let (_, address) = entered.find(|(seq, _)| *seq == entry)?;
    entered.next().map(|_| address)
}
