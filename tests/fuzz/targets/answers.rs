//! Answers against the machine: choices follow what is asked, or do something else. Whatever was taken is decided the same
//! again, reads back as it was written, and no gate is met by what nobody knows.

use std::collections::HashMap;

use indexmap::IndexMap;
use standpipe::job::EvidenceRef;
use standpipe::job::replay::{replay, verify};
use standpipe::job::{
    AnswerKind, Entry, Event, Input, Machine, Moment, Origin, Pending, Photo, Prompt, PromptField, Record, State,
    Verdict, What,
};
use standpipe::value::Value;

use super::choices::Choices;
use super::workshop;

const JOBS: [&str; 6] =
    ["gannet-forester", "heron-van", "plover-pickup", "dunlin-hatch", "ruff-roadster", "knot-courier"];
/// More inputs than a job that goes somewhere takes.
const MOST: usize = 400;

thread_local! {
    /// A plan costs far more than a job. It stays for as long as the thread.
    static JOBS_AT_HAND: std::cell::RefCell<HashMap<usize, &'static Bench>> = std::cell::RefCell::default();
}

struct Bench {
    machine: Machine,
    /// Texts of the family's and the job's facts, and amounts by what they are of.
    texts: Vec<String>,
    amounts: HashMap<String, Vec<String>>,
    people: Vec<String>,
    procedures: Vec<String>,
}

impl Bench {
    fn of(job: usize) -> &'static Self {
        JOBS_AT_HAND
            .with_borrow_mut(|known| *known.entry(job).or_insert_with(|| Box::leak(Box::new(Self::new(JOBS[job])))))
    }

    fn new(job: &str) -> Self {
        let machine = workshop::machine(job);
        let (mut texts, mut amounts) = (Vec::new(), HashMap::new());
        let family = &machine.plan.family;
        let known = family.variants.keys().map(|variant| family.facts(Some(variant)));
        for value in known.chain([family.facts(None), machine.plan.job.facts.clone()]) {
            gather(&machine, &value, &mut texts, &mut amounts);
        }
        let people = machine.plan.shop.people.keys().cloned().collect();
        let procedures = machine.plan.procedures.keys().cloned().collect();
        Self { machine, texts, amounts, people, procedures }
    }
}

fn gather(machine: &Machine, value: &Value, texts: &mut Vec<String>, amounts: &mut HashMap<String, Vec<String>>) {
    let units = &machine.plan.units;
    let mut put = |quantity: &standpipe::quantity::Quantity, si: f64| {
        let Some(of) = &quantity.of else { return };
        let one = standpipe::quantity::Quantity { si, written: None, ..quantity.clone() };
        amounts.entry(of.to_string()).or_default().push(units.show_plainly(&one));
    };
    match value {
        Value::Text(text) => texts.push(text.clone()),
        Value::Quantity(one) => put(one, one.si),
        Value::Range(low, high) => put(low, (low.si + high.si) / 2.0),
        Value::List(items) => items.iter().for_each(|item| gather(machine, item, texts, amounts)),
        Value::Record(fields) => fields.values().for_each(|field| gather(machine, field, texts, amounts)),
        _ => {}
    }
}

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let bench = Bench::of(choices.below(JOBS.len()));
    let machine = &bench.machine;
    let mut job = Job { bench, state: State::default(), records: Vec::new(), ends: Vec::new() };
    let mut at: Moment = "2026-11-23T08:00:00+01:00".parse().unwrap();
    job.give(at, &bench.people[0], What::Open);
    let mut given = 0;
    while !choices.are_spent() && given < MOST && !matches!(machine.pending(&job.state), Pending::Nothing { .. }) {
        given += 1;
        at = at.saturating_add(jiff::SignedDuration::from_secs(choices.one(&[60, 1, 5, 300, 3600, 50_000])));
        let (by, what) = job.chosen(&mut choices);
        job.give(at, &by, what);
    }
    job.holds();
}

struct Job {
    bench: &'static Bench,
    state: State,
    records: Vec<Record>,
    ends: Vec<u64>,
}

impl Job {
    fn give(&mut self, at: Moment, by: &str, what: What) {
        let input = Input { at, entered_at: None, by: by.to_owned(), origin: Origin::Answers, what };
        match self.bench.machine.decide(&self.state, &input) {
            Ok(records) => {
                for record in &records {
                    let line = serde_json::to_string(record).unwrap();
                    let again: Record = serde_json::from_str(&line).unwrap_or_else(|fault| panic!("{fault}: {line}"));
                    assert_eq!(again, *record, "{line}");
                    known_if_met(record);
                    self.state.apply(record);
                }
                self.ends.extend(records.last().map(|record| record.seq));
                self.records.extend(records);
            }
            Err(refusal) => assert!(!refusal.message.is_empty()),
        }
    }

    /// Decided again it is the same, and the state follows from the events.
    fn holds(&self) {
        let machine = &self.bench.machine;
        let differences = verify(machine, &self.records, &self.ends);
        assert!(differences.is_empty(), "{:#?}", differences.first());
        let again = replay(&self.records);
        assert_eq!(machine.pending(&again), machine.pending(&self.state));
    }

    fn chosen(&self, choices: &mut Choices<'_>) -> (String, What) {
        let bench = self.bench;
        let by = bench.people[if choices.rarely(12) { choices.below(bench.people.len()) } else { 0 }].clone();
        let because = "it is so".to_owned();
        let what = match choices.below(24) {
            0 => What::Pause,
            1 => What::Resume,
            2 => What::Call { procedure: bench.procedures[choices.below(bench.procedures.len())].clone() },
            3 => What::TakeBack,
            4 => What::Skip { because },
            5 => What::Note(choices.text(8)),
            6 => What::Tick,
            7 => {
                let readings = &self.state.readings;
                let Some(reading) = readings.iter().nth(choices.below(readings.iter().count())) else {
                    return (by, What::Tick);
                };
                let typed = match &reading.value {
                    Value::Quantity(one) => amount(bench, one.of.as_deref(), None, choices),
                    Value::Number(_) => choices.below(20).to_string(),
                    _ => choices.text(6),
                };
                let values = IndexMap::from([(reading.name.clone(), typed)]);
                What::Correct { entry: choices.rarely(2).then_some(reading.seq), values, because }
            }
            8 if choices.rarely(8) => What::Abandon { because },
            9 => What::Enter(Entry { step: choices.text(5), ..Entry::default() }),
            10 => What::Accept { because },
            _ => return self.fitting(by, choices),
        };
        (by, what)
    }

    /// What may well be taken.
    fn fitting(&self, by: String, choices: &mut Choices<'_>) -> (String, What) {
        let because = "it is so".to_owned();
        match self.bench.machine.pending(&self.state) {
            Pending::Entry(prompt) => self.entry(by, &prompt, choices),
            Pending::Acceptance { .. } => {
                (self.bench.people[choices.below(self.bench.people.len())].clone(), What::Accept { because })
            }
            Pending::Facts { missing, .. } => {
                let path = missing.first().cloned().unwrap_or_default();
                let kinds: Vec<&String> = self.bench.amounts.keys().collect();
                let of = kinds.get(choices.below(kinds.len())).map(|of| of.as_str());
                let typed = amount(self.bench, of, None, choices);
                (by, What::Supply { path, typed, source: "invented".to_owned() })
            }
            Pending::Resumption { .. } => (by, What::Resume),
            Pending::Stopped { .. } => {
                let procedures = &self.bench.procedures;
                (by, What::Call { procedure: procedures[choices.below(procedures.len())].clone() })
            }
            Pending::Opening | Pending::Fault { .. } | Pending::Nothing { .. } => (by, What::Tick),
        }
    }

    fn entry(&self, by: String, prompt: &Prompt, choices: &mut Choices<'_>) -> (String, What) {
        let mut entry = Entry { step: prompt.address.step.clone(), ..Entry::default() };
        let mut by = by;
        let others: Vec<&String> = self.bench.people.iter().filter(|one| **one != by).collect();
        if prompt.fields.iter().any(|field| !matches!(field.kind, AnswerKind::Done | AnswerKind::Held))
            || choices.rarely(6)
        {
            entry.item = prompt.item.clone();
        }
        for field in &prompt.fields {
            if field.optional && choices.rarely(3) {
                continue;
            }
            if field.kind == AnswerKind::Signature {
                by = others[choices.below(others.len())].clone();
            }
            if let Some(typed) = self.typed(field, prompt, choices) {
                entry.typed.insert(field.name.clone(), typed);
            }
            if let Some(with) = field.instruments.get(choices.below(field.instruments.len())) {
                entry.with.insert(field.name.clone(), with.clone());
            }
        }
        if prompt.witness.is_some() {
            entry.witness = Some(others[choices.below(others.len())].clone());
        }
        if prompt.evidence == Some(Photo::Required) {
            let sha256 = standpipe::job::plan::sha256(b"photo");
            entry.evidence.push(EvidenceRef { sha256, name: "photo.txt".to_owned(), of: None });
        }
        (by, What::Enter(entry))
    }

    fn typed(&self, field: &PromptField, prompt: &Prompt, choices: &mut Choices<'_>) -> Option<String> {
        let bench = self.bench;
        Some(match field.kind {
            AnswerKind::Done | AnswerKind::Signature => return None,
            AnswerKind::Quantity => {
                let typed = amount(bench, field.quantity.as_deref(), prompt.within.as_deref(), choices);
                if choices.rarely(16) { typed.replace(' ', "") } else { typed }
            }
            AnswerKind::Count => choices.below(16).to_string(),
            AnswerKind::Date => choices.one(&["2026-11-01", "2030-01-01", "yesterday"]).to_owned(),
            AnswerKind::Person => bench.people[choices.below(bench.people.len())].clone(),
            AnswerKind::Held => match prompt.hold {
                Some(hold) => format!("{} s", hold * choices.one(&[1.0, 2.0, 0.5])),
                None => "60 s".to_owned(),
            },
            AnswerKind::Text if field.options.is_empty() => match bench.texts.get(usize::from(choices.byte())) {
                Some(text) => text.clone(),
                None => choices.text(6),
            },
            AnswerKind::Choice | AnswerKind::Sign | AnswerKind::Text => {
                match field.options.get(choices.below(field.options.len())) {
                    Some((option, _)) => option.clone(),
                    None => choices.below(16).to_string(),
                }
            }
        })
    }
}

/// An amount of a quantity: of what the family and the job know, of the middle of a range, or any.
fn amount(bench: &Bench, of: Option<&str>, within: Option<&str>, choices: &mut Choices<'_>) -> String {
    let units = &bench.machine.plan.units;
    let Some(family) = of.and_then(|of| units.family(of)) else { return choices.below(100).to_string() };
    let way = choices.below(4);
    if way == 0
        && let Some(Ok(Value::Range(low, high))) = within.map(|text| units.read_range(text, of, None))
    {
        let middle = standpipe::quantity::Quantity { si: (low.si + high.si) / 2.0, written: None, ..low };
        return units.show_plainly(&middle);
    }
    let known = bench.amounts.get(&*family.name).map_or(&[][..], Vec::as_slice);
    if way <= 1
        && let Some(one) = known.get(choices.below(known.len()))
    {
        return one.clone();
    }
    let (_, unit) = family.units.get_index(choices.below(family.units.len())).unwrap();
    let number = f64::from(choices.byte()) * choices.one(&[1.0, 0.1, 0.01, -1.0, 10.0]);
    format!("{number:.2} {}", unit.symbol)
}

/// A gate that is met has looked at nothing that is missing.
fn known_if_met(record: &Record) {
    let Event::Judged { verdict: Verdict::Met, found, missing, .. } = &record.event else { return };
    assert!(
        missing.is_empty() && found.values().all(|value| !value.is_unknown()),
        "met over something unknown: {record:?}"
    );
}
