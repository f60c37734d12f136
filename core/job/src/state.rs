//! What a job's events add up to. `apply` runs no script and reads no plan.

use crate::moment::Moment;
use indexmap::{IndexMap, IndexSet};

use super::address::Address;
use super::event::{Event, Record, StreamStatus, Verdict};
use super::said::{Contradiction, PlanFault};
use super::shared::Shared;
use super::steps::{At, Steps};
use standpipe_procedure::Progress;
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, Default)]
pub struct State {
    /// Number of the last event.
    pub seq: u64,
    pub at: Option<Moment>,
    /// In whose hands the work is.
    pub actor: Option<String>,
    /// Everyone who entered something.
    pub doers: IndexSet<String>,
    pub steps: Steps,
    pub readings: Shared<Reading>,
    /// Every verdict that was passed, in order.
    pub verdicts: Shared<Passed>,
    /// Rounds that ended before their last step, by the address of the `repeat` in that round.
    pub rounds_over: IndexSet<Address>,
    pub variant: Option<String>,
    pub signs: IndexMap<String, Value>,
    pub supplied: IndexMap<String, Value>,
    pub calls: Vec<Call>,
    /// How often each procedure was called.
    pub called: IndexMap<String, u32>,
    pub pauses: u32,
    pub phase: Phase,
    pub blocker: Option<Blocker>,
    /// The tag of the last pause.
    pub tag: Vec<String>,
    /// The job was resumed after a pause, not after it broke off: what the tag says is what was left.
    pub was_paused: bool,
    /// Of each reader that is followed, by the name of what it reads.
    pub streams: IndexMap<String, Stream>,
}

/// How the readings of a followed reader stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Stream {
    pub turn: StreamStatus,
    /// When it turned so.
    pub at: Moment,
    /// Inside the range that was awaited last; nothing is known before a reading came or after it went stale.
    pub inside: Option<bool>,
    /// The step that awaited the range.
    pub awaited_by: Option<Address>,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Phase {
    #[default]
    New,
    Running,
    Pausing,
    Paused,
    Resuming,
    Abandoned,
    Finished,
}

impl Phase {
    pub fn words(&self) -> &'static str {
        match self {
            Phase::New => "not begun",
            Phase::Running => "running",
            Phase::Pausing => "being paused",
            Phase::Paused => "paused",
            Phase::Resuming => "being resumed",
            Phase::Abandoned => "abandoned",
            Phase::Finished => "finished",
        }
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Call {
    pub procedure: String,
    pub call: u32,
}

/// What keeps the job from going on though nothing is asked.
#[derive(Clone, Debug, PartialEq)]
pub enum Blocker {
    Missing { address: Address, missing: Vec<String> },
    Fault { address: Address, fault: PlanFault, place: String },
    Contradiction { address: Address, what: Contradiction },
}

#[derive(Clone, Debug, Default)]
pub struct StepState {
    pub progress: Progress,
    /// When each of its expressions was settled.
    pub settlements: IndexMap<String, Settlement>,
    /// What ended its entry; it is asked again while its block is under way.
    pub ended: Option<String>,
    /// Why it is asked again, until it is answered.
    pub again: Option<String>,
    pub verdict: Option<Verdict>,
    pub skipped: bool,
    pub accepted: bool,
    /// Entries that did not count, and gates that were not met.
    pub attempts: u32,
    /// So many of them for the item that is asked now.
    pub tries: u32,
}

/// When an expression was settled; what came later was not looked at.
#[derive(Clone, Copy, Debug)]
pub struct Settlement {
    /// Number of the event.
    pub seq: u64,
    pub at: Moment,
}

/// A value that has a name.
#[derive(Clone, Debug)]
pub struct Reading {
    pub name: String,
    pub value: Value,
    /// The event that brought it.
    pub seq: u64,
    pub address: Address,
    pub at: Moment,
    /// Seconds after which it is stale.
    pub fresh_for: Option<f64>,
    /// Computed rather than entered.
    pub computed: bool,
    /// An event, a pause or another person ended it.
    pub ended: bool,
    /// Belongs to an entry that counts; an attempt (not yet in the range, not held long enough) does not.
    pub counts: bool,
    /// Its gate was not met and the step was asked again.
    pub rejected: bool,
    /// The instrument it was read with.
    pub with: Option<String>,
}

#[derive(Clone, Debug)]
pub struct Passed {
    pub seq: u64,
    pub address: Address,
    pub verdict: Verdict,
    /// The step was asked again, or a later verdict took its place.
    pub superseded: bool,
    pub accepted: bool,
    /// The event before which the values count that it looked at.
    pub as_of: u64,
    pub at: Moment,
    /// In what share of trials it was met, where the gate asks for that.
    pub likely: Option<f64>,
}

impl State {
    pub fn step(&self, address: &Address) -> Option<&StepState> {
        let at = At { step: &address.step, rounds: &address.rounds, item: &address.item };
        self.steps.known(at).map(|known| &known.state)
    }

    pub fn is_open(&self) -> bool {
        !matches!(self.phase, Phase::Abandoned | Phase::Finished)
    }

    fn step_mut(&mut self, address: &Address) -> &mut StepState {
        self.steps.change(address)
    }

    /// The latest reading of a name, whatever its age.
    pub fn latest(&self, name: &str) -> Option<&Reading> {
        self.readings.iter().rev().find(|reading| !reading.ended && !reading.rejected && reading.name == name)
    }

    pub fn apply(&mut self, record: &Record) {
        let phase = self.phase.clone();
        self.take(record);
        // Another procedure is under way.
        if self.phase != phase {
            self.steps.front.forget();
        }
    }

    fn take(&mut self, record: &Record) {
        self.seq = record.seq;
        // A late entry moves the clock to when it was entered, not to when it was done.
        let entered = record.entered_at.unwrap_or(record.at);
        self.at = Some(self.at.map_or(entered, |at| at.max(entered)));
        match &record.event {
            Event::Opened { .. } => {
                self.phase = Phase::Running;
                self.actor = Some(record.by.clone());
            }
            Event::Entered { .. } => self.entered(record),
            Event::Settled { address, what, value, .. } => {
                let step = self.step_mut(address);
                // What was worked out from it is worked out anew.
                if let Some(index) = step.progress.settled.get_index_of(what) {
                    step.progress.settled.truncate(index);
                }
                step.progress.settled.insert(what.clone(), value.clone());
                step.settlements.insert(what.clone(), Settlement { seq: record.seq, at: record.at });
            }
            Event::Computed { .. } => self.computed(record),
            Event::Judged { address, verdict, likely, again, supersedes, .. } => {
                self.judged(record, address, (*verdict, *likely), *again, *supersedes);
            }
            Event::Ended { addresses, by, at_once } => {
                self.steps.front.forget();
                for address in addresses {
                    self.end(address, by, *at_once);
                }
            }
            Event::RoundEnded { address, .. } => {
                self.rounds_over.insert(address.clone());
                // The gate that ended the round has had its say: the next round is judged by itself.
                let last = self.verdicts.iter().next_back().map(|passed| passed.seq);
                self.verdicts.change(
                    |passed| Some(passed.seq) == last && passed.seq + 1 == record.seq,
                    |passed| {
                        passed.superseded = true;
                    },
                );
            }
            Event::Accepted { address, .. } => self.accepted(address),
            Event::Skipped { address, .. } => {
                self.step_mut(address).skipped = true;
                self.blocker = None;
            }
            Event::Corrected { entry, values, .. } => {
                if matches!(self.blocker, Some(Blocker::Contradiction { .. })) {
                    self.blocker = None;
                }
                self.corrected(*entry, values);
            }
            Event::Supplied { path, value, .. } => {
                self.supplied.insert(path.clone(), value.clone());
                self.blocker = None;
            }
            // What held the job up is found again where the new data have not mended it.
            Event::Amended { .. } => self.blocker = None,
            Event::Recognised { variant, .. } => {
                self.variant = Some(variant.clone());
                self.blocker = None;
            }
            Event::Blocked { address, missing } => {
                self.blocker = Some(Blocker::Missing { address: address.clone(), missing: missing.clone() });
            }
            Event::Faulted { address, fault, place } => {
                self.blocker =
                    Some(Blocker::Fault { address: address.clone(), fault: fault.clone(), place: place.clone() });
            }
            Event::Contradicted { address, what } => {
                self.blocker = Some(Blocker::Contradiction { address: address.clone(), what: what.clone() });
            }
            Event::Called { procedure, call, .. } => {
                // What blocked the step is found again when the job comes back to it.
                self.blocker = None;
                self.steps.front.forget();
                self.called.insert(procedure.clone(), *call);
                self.calls.push(Call { procedure: procedure.clone(), call: *call });
            }
            Event::Undone { addresses, by } => {
                self.steps.front.forget();
                for address in addresses {
                    self.undone(address, by);
                }
            }
            Event::Returned { .. } | Event::TakenBack { .. } => {
                self.steps.front.forget();
                self.calls.pop();
            }
            Event::Pausing { pause } => {
                self.pauses = *pause;
                self.phase = Phase::Pausing;
            }
            Event::Paused { tag, .. } => {
                self.tag = tag.clone();
                self.phase = Phase::Paused;
            }
            Event::Resumed { pause, .. } => {
                self.pauses = *pause;
                self.was_paused = self.phase == Phase::Paused;
                self.phase = Phase::Resuming;
            }
            Event::WentOn { .. } => self.phase = Phase::Running,
            Event::TookOver { .. } => self.actor = Some(record.by.clone()),
            Event::Stream { address, name, turn, .. } => self.streamed(record, address.as_ref(), name, *turn),
            Event::Abandoned { .. } => self.phase = Phase::Abandoned,
            Event::Finished => self.phase = Phase::Finished,
            Event::Noted { .. } | Event::Attached { .. } | Event::LogKept(_) | Event::Recovered { .. } => {}
        }
    }

    fn streamed(&mut self, record: &Record, address: Option<&Address>, name: &str, turn: StreamStatus) {
        let known = self.streams.get(name);
        let inside = match turn {
            StreamStatus::Reached => Some(true),
            StreamStatus::Left => Some(false),
            StreamStatus::Covered | StreamStatus::NotCovered => known.and_then(|stream| stream.inside),
            // What it did meanwhile nobody knows.
            StreamStatus::Began
            | StreamStatus::Stale
            | StreamStatus::Frozen
            | StreamStatus::Again
            | StreamStatus::Over => None,
        };
        let awaited_by = match turn {
            StreamStatus::Reached | StreamStatus::Left => address.cloned(),
            _ => known.and_then(|stream| stream.awaited_by.clone()),
        };
        let turn = match (turn, known) {
            (StreamStatus::Covered | StreamStatus::NotCovered, Some(known)) => known.turn,
            _ => turn,
        };
        self.streams.insert(name.to_owned(), Stream { turn, at: record.at, inside, awaited_by });
    }

    fn entered(&mut self, record: &Record) {
        let Event::Entered { address, values, with, fresh_for, done, .. } = &record.event else { return };
        self.doers.insert(record.by.clone());
        let step = self.step_mut(address);
        if step.ended.take().is_some() {
            step.progress.done.clear();
        }
        step.again = None;
        step.verdict = None;
        step.accepted = false;
        if *done {
            step.progress.done.insert(address.item.clone());
            if !address.item.is_empty() {
                step.tries = 0;
            }
        } else {
            step.attempts += 1;
            step.tries += 1;
        }
        for (name, value) in values {
            if value.is_unknown() {
                continue;
            }
            self.readings.push(Reading {
                name: name.clone(),
                value: value.clone(),
                seq: record.seq,
                address: address.clone(),
                at: record.at,
                fresh_for: fresh_for.get(name).copied(),
                computed: false,
                ended: false,
                counts: *done,
                rejected: false,
                with: with.get(name).cloned(),
            });
        }
    }

    fn computed(&mut self, record: &Record) {
        let Event::Computed { address, what, gives, value, supersedes, .. } = &record.event else { return };
        self.step_mut(address).progress.settled.insert(what.clone(), value.clone());
        let Some(name) = gives else { return };
        if let Some(old) = supersedes
            && let Some(at) = self.readings.iter().position(|reading| reading.seq == *old)
        {
            // Keeps its number: what was concluded from it before is compared with the value as it now is.
            self.readings.change_at(at).value = value.clone();
            return;
        }
        self.readings.push(Reading {
            name: name.clone(),
            value: value.clone(),
            seq: record.seq,
            address: address.clone(),
            at: record.at,
            fresh_for: None,
            computed: true,
            ended: false,
            counts: true,
            rejected: false,
            with: None,
        });
    }

    fn judged(
        &mut self,
        record: &Record,
        address: &Address,
        passed: (Verdict, Option<f64>),
        again: bool,
        supersedes: Option<u64>,
    ) {
        let (verdict, likely) = passed;
        let mut as_of = record.seq;
        if let Some(old) = supersedes
            && let Some(at) = self.verdicts.iter().position(|passed| passed.seq == old)
        {
            let passed = self.verdicts.change_at(at);
            passed.superseded = true;
            as_of = passed.as_of;
        }
        self.verdicts.push(Passed {
            seq: record.seq,
            address: address.clone(),
            verdict,
            superseded: again,
            accepted: false,
            as_of,
            at: record.at,
            likely,
        });
        if supersedes.is_some() {
            // What was done on the old verdict stands; closing looks at the new one. One that held the job lets it go.
            if verdict == Verdict::Met {
                self.step_mut(address).verdict = Some(verdict);
            }
            return;
        }
        let step = self.step_mut(address);
        step.verdict = Some(verdict);
        if again {
            step.verdict = None;
            step.progress.done.clear();
            step.attempts += 1;
            step.tries += 1;
            self.readings
                .change(|reading| !reading.rejected && is_of(reading, address), |reading| reading.rejected = true);
        }
    }

    fn end(&mut self, address: &Address, by: &str, at_once: bool) {
        let step = self.step_mut(address);
        step.again = Some(by.to_owned());
        if at_once {
            step.progress.done.clear();
            step.verdict = None;
            // What held the job is judged anew; left standing, it would have to be accepted at the end.
            let bad =
                |passed: &Passed| !passed.superseded && passed.address == *address && passed.verdict != Verdict::Met;
            self.verdicts.change(bad, |passed| passed.superseded = true);
        } else {
            step.ended = Some(by.to_owned());
        }
        self.readings.change(|reading| !reading.ended && is_of(reading, address), |reading| reading.ended = true);
    }

    /// As if it had not been done: what it gave counts no more, its branch is decided anew.
    fn undone(&mut self, address: &Address, by: &str) {
        let step = self.step_mut(address);
        *step = StepState { again: Some(by.to_owned()), ..StepState::default() };
        self.verdicts
            .change(|passed| !passed.superseded && passed.address == *address, |passed| passed.superseded = true);
        self.readings.change(|reading| !reading.rejected && is_of(reading, address), |reading| reading.rejected = true);
    }

    fn accepted(&mut self, address: &Address) {
        self.step_mut(address).accepted = true;
        let standing = |passed: &Passed| !passed.superseded && !passed.accepted && passed.address == *address;
        self.verdicts.change(standing, |passed| passed.accepted = true);
    }

    fn corrected(&mut self, entry: u64, values: &IndexMap<String, Value>) {
        let corrected = |reading: &Reading| reading.seq == entry && values.contains_key(&reading.name);
        self.readings.change(corrected, |reading| reading.value.clone_from(&values[&reading.name]));
    }
}

fn is_of(reading: &Reading, step: &Address) -> bool {
    reading.address.step == step.step && reading.address.rounds == step.rounds
}
