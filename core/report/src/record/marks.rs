//! What stands out in a job: corrections, what was left out, accepted, supplied or called, pauses, rounds, notes.

use indexmap::IndexMap;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::steps::StepView;
use crate::shown::{person, show};
use standpipe_job::event::KeptLog;
use standpipe_job::names::JobNames;
use standpipe_job::{Address, Event, EvidenceRef, Machine, Record, State, Verdict};
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, Default)]
pub(super) struct Marks {
    pub rounds: Vec<Round>,
    pub corrections: Vec<Correction>,
    pub skipped: Vec<Skipped>,
    pub accepted: Vec<Accepted>,
    pub supplied: Vec<Supplied>,
    pub amended: Vec<Amended>,
    pub calls: Vec<Call>,
    pub pauses: Vec<Pause>,
    pub notes: Vec<Note>,
    pub photos: Vec<Photo>,
    pub logs: Vec<LogMark>,
    pub instruments: Vec<Used>,
    pub abandoned: Option<String>,
}

/// A log of readings that was kept.
#[derive(Clone, Debug, Serialize)]
pub struct LogMark {
    pub at: Moment,
    pub by: String,
    #[serde(flatten)]
    pub kept: KeptLog,
}

impl LogMark {
    /// How many of its checks came to this.
    pub fn count(&self, verdict: Verdict) -> usize {
        self.kept.verdicts.iter().filter(|one| one.verdict == verdict).count()
    }
}

/// Rounds of one `repeat`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Round {
    #[schemars(with = "String")]
    pub address: Address,
    pub title: String,
    pub rounds: u32,
    /// Why rounds before the last one ended, in order.
    pub ended: Vec<String>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Correction {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    pub name: String,
    pub before: String,
    pub after: String,
    pub because: String,
    /// Number of the event that it corrects.
    pub entry: u64,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Skipped {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    #[schemars(with = "String")]
    pub address: Address,
    pub title: String,
    pub because: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Accepted {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    #[schemars(with = "String")]
    pub address: Address,
    pub title: String,
    /// The verdict that was accepted.
    pub verdict: String,
    pub because: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Amended {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    /// Files of plugins.
    pub changed: Vec<String>,
    pub because: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Supplied {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    pub path: String,
    pub shown: String,
    pub value: Value,
    pub source: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Call {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    pub procedure: String,
    pub title: String,
    #[schemars(with = "Option<String>")]
    pub returned: Option<Moment>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Pause {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    pub tag: Vec<String>,
    #[schemars(with = "Option<String>")]
    pub resumed: Option<Moment>,
    pub resumed_by: Option<String>,
    /// The work went from one to another.
    pub taken_over: bool,
    /// Nobody said that it was left.
    pub unannounced: bool,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Note {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    #[schemars(with = "Option<String>")]
    pub address: Option<Address>,
    pub text: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Photo {
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    #[schemars(with = "Option<String>")]
    pub address: Option<Address>,
    pub name: String,
    pub sha256: String,
}

/// An instrument that something was read with.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Used {
    pub id: String,
    pub kind: String,
    pub accuracy: Option<String>,
    #[schemars(with = "Option<String>")]
    pub calibrated: Option<Date>,
    #[schemars(with = "Option<String>")]
    pub due: Option<Date>,
    pub readings: usize,
}

pub(super) fn marks(machine: &Machine, records: &[Record], steps: &[StepView]) -> Marks {
    let mut marks = Marks::default();
    // What stands for each entry and name, so that a correction can say what was there before.
    let mut standing: IndexMap<(u64, String), Value> = IndexMap::new();
    let mut verdicts: IndexMap<Address, String> = IndexMap::new();
    let mut rounds: IndexMap<Address, Round> = IndexMap::new();
    let mut used: IndexMap<String, usize> = IndexMap::new();
    for record in records {
        let by = person(&machine.plan, &record.by);
        let at = record.at;
        match &record.event {
            Event::Entered { address, values, with, evidence, .. } => {
                standing.extend(values.iter().map(|(name, value)| ((record.seq, name.clone()), value.clone())));
                let is_end = |name: &str| machine.plan.scale_end(&address.step, name).is_some();
                for id in with.iter().filter(|(name, _)| !is_end(name)).map(|(_, id)| id) {
                    *used.entry(id.clone()).or_default() += 1;
                }
                marks.photos.extend(evidence.iter().map(|kept| photo(at, &by, Some(address), kept)));
            }
            Event::Attached { address, evidence } => marks.photos.push(photo(at, &by, address.as_ref(), evidence)),
            Event::LogKept(kept) => marks.logs.push(LogMark { at, by: by.clone(), kept: (**kept).clone() }),
            Event::Corrected { entry, values, because, .. } => {
                for (name, value) in values {
                    let before = standing.insert((*entry, name.clone()), value.clone());
                    marks.corrections.push(Correction {
                        at,
                        by: by.clone(),
                        name: name.clone(),
                        before: before.map(|before| show(&machine.plan, &before)).unwrap_or_default(),
                        after: show(&machine.plan, value),
                        because: because.clone(),
                        entry: *entry,
                    });
                }
            }
            Event::Judged { address, verdict, .. } => {
                verdicts.insert(address.clone(), verdict.words().to_owned());
            }
            Event::Skipped { address, because } => marks.skipped.push(Skipped {
                at,
                by,
                title: title(machine, steps, address),
                address: address.clone(),
                because: because.clone(),
            }),
            Event::Accepted { address, because } => marks.accepted.push(Accepted {
                at,
                by,
                title: title(machine, steps, address),
                verdict: verdicts.get(address).cloned().unwrap_or_else(|| "rounds used up".to_owned()),
                address: address.clone(),
                because: because.clone(),
            }),
            Event::Supplied { path, value, source, .. } => marks.supplied.push(Supplied {
                at,
                by,
                path: path.clone(),
                shown: show(&machine.plan, value),
                value: value.clone(),
                source: source.clone(),
            }),
            Event::Amended { changed, because, .. } => {
                marks.amended.push(Amended { at, by, changed: changed.clone(), because: because.clone() });
            }
            Event::Settled { address, what, .. } if what == "until" => {
                round(&mut rounds, address, None, || title(machine, steps, address));
            }
            Event::RoundEnded { address, because } => {
                round(&mut rounds, address, Some(because.to_string()), || title(machine, steps, address))
            }
            Event::Noted { address, text } => {
                marks.notes.push(Note { at, by, address: address.clone(), text: text.clone() });
            }
            Event::Abandoned { because, decided_in } => {
                marks.abandoned = Some(match decided_in {
                    Some(procedure) => format!("decided in `{procedure}`"),
                    None => because.clone(),
                });
            }
            event => sitting(machine, &mut marks, event, at, by),
        }
    }
    marks.rounds = rounds.into_values().collect();
    marks.instruments = used.into_iter().map(|(id, readings)| instrument(machine, id, readings)).collect();
    marks
}

/// Calls, pauses, and what the journal says of itself.
fn sitting(machine: &Machine, marks: &mut Marks, event: &Event, at: Moment, by: String) {
    match event {
        Event::Called { procedure, .. } => marks.calls.push(Call {
            at,
            by,
            title: machine.plan.procedure(procedure).map_or_else(|| procedure.clone(), |found| found.title.clone()),
            procedure: procedure.clone(),
            returned: None,
        }),
        Event::Returned { procedure, .. } => {
            let open = marks.calls.iter_mut().rev().find(|call| call.procedure == *procedure);
            if let Some(call) = open.filter(|call| call.returned.is_none()) {
                call.returned = Some(at);
            }
        }
        Event::Paused { tag, .. } => marks.pauses.push(Pause {
            at,
            by,
            tag: tag.clone(),
            resumed: None,
            resumed_by: None,
            taken_over: false,
            unannounced: false,
        }),
        Event::Resumed { unannounced, .. } => {
            match marks.pauses.last_mut().filter(|pause| pause.resumed.is_none() && !unannounced) {
                Some(pause) => (pause.resumed, pause.resumed_by) = (Some(at), Some(by)),
                None => marks.pauses.push(Pause {
                    at,
                    by: String::new(),
                    tag: Vec::new(),
                    resumed: Some(at),
                    resumed_by: Some(by),
                    taken_over: false,
                    unannounced: *unannounced,
                }),
            }
        }
        Event::TookOver { .. } => {
            if let Some(pause) = marks.pauses.last_mut() {
                pause.taken_over = true;
            }
        }
        Event::Stream { address, name, turn, value, note } => {
            let shown = value.as_ref().map(|value| format!(" at {}", machine.plan.show(value))).unwrap_or_default();
            let words = note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
            let text = format!("reader, {}, {}{shown}{words}", name.replace('_', " "), turn.words());
            marks.notes.push(Note { at, by, address: address.clone(), text });
        }
        Event::Recovered { bytes, moved_to } => marks.notes.push(Note {
            at,
            by,
            address: None,
            text: format!("the journal ended in {bytes} torn bytes, which lie in {moved_to}"),
        }),
        _ => {}
    }
}

fn photo(at: Moment, by: &str, address: Option<&Address>, kept: &EvidenceRef) -> Photo {
    Photo { at, by: by.to_owned(), address: address.cloned(), name: kept.name.clone(), sha256: kept.sha256.clone() }
}

fn round(
    rounds: &mut IndexMap<Address, Round>,
    address: &Address,
    because: Option<String>,
    title: impl FnOnce() -> String,
) {
    let mut outer = address.whole();
    let number = outer.rounds.pop().unwrap_or(1);
    let round = rounds.entry(outer.clone()).or_insert_with(|| Round {
        address: outer,
        title: title(),
        rounds: 0,
        ended: Vec::new(),
    });
    round.rounds = round.rounds.max(number);
    round.ended.extend(because);
}

fn instrument(machine: &Machine, id: String, readings: usize) -> Used {
    let known = machine.plan.shop.instruments.get(&id);
    Used {
        kind: known.map(|known| known.kind.clone()).unwrap_or_default(),
        accuracy: known.and_then(|known| known.accuracy.as_ref()).map(|accuracy| accuracy.words()),
        calibrated: known.and_then(|known| known.calibrated),
        due: known.and_then(|known| known.due),
        id,
        readings,
    }
}

/// The title of a step as it was read at its time.
fn title(machine: &Machine, steps: &[StepView], address: &Address) -> String {
    if let Some(step) = steps.iter().find(|step| step.address == address.whole()) {
        return step.title.clone();
    }
    let state = State { variant: machine.plan.job.variant.clone(), ..State::default() };
    let names = JobNames::new(&machine.plan, &state, Default::default(), address.round());
    machine.plan.step(&address.step).map_or_else(|| address.step.clone(), |step| machine.title(step, &names))
}
