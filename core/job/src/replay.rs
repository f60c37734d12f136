//! A job from its events, and its inputs again from its batches.

use indexmap::IndexMap;

use super::event::{Event, Record, StreamStatus, Witness};
use super::input::{Entry, Input, Refusal, What};
use super::state::State;
use super::{Machine, Origin};

/// Where a job stands after these events.
pub fn replay<'a>(records: impl IntoIterator<Item = &'a Record>) -> State {
    let mut state = State::default();
    for record in records {
        state.apply(record);
    }
    state
}

/// The events by the input that led to them. `ends`: number of the last event of each batch.
pub fn batches<'a>(records: &'a [Record], ends: &[u64]) -> Vec<&'a [Record]> {
    let mut rest = records;
    let mut all = Vec::new();
    for end in ends {
        let (batch, later) = rest.split_at(rest.partition_point(|record| record.seq <= *end));
        if !batch.is_empty() {
            all.push(batch);
        }
        rest = later;
    }
    all
}

/// A batch that the machine decides otherwise today than it did then.
#[derive(Debug)]
pub struct Difference<'a> {
    pub recorded: &'a [Record],
    /// `None` where no input leads to such a batch.
    pub again: Option<Result<Vec<Record>, Refusal>>,
}

/// Decides every recorded input again, each on what was recorded before it, and tells where the events differ in any bit.
/// How much of a difference matters is for the reader to weigh.
pub fn verify<'a>(machine: &Machine, records: &'a [Record], ends: &[u64]) -> Vec<Difference<'a>> {
    let mut state = State::default();
    let mut differences = Vec::new();
    for batch in batches(records, ends) {
        let again = input_of(batch).map(|input| machine.decide(&state, &input));
        let same = match &again {
            Some(again) => again.as_deref() == Ok(batch),
            None => is_recovery(batch),
        };
        if !same {
            differences.push(Difference { recorded: batch, again });
        }
        for record in batch {
            state.apply(record);
        }
    }
    differences
}

/// Did the journal itself add this batch, all of it? No input led to it then, and there is nothing to decide again.
pub fn is_recovery(batch: &[Record]) -> bool {
    !batch.is_empty() && batch.iter().all(|record| matches!(record.event, Event::Recovered { .. }))
}

/// The input that led to a batch; `None` for what the journal itself added, and for a batch that no input can lead to.
///
/// What a person did is always the first event, what the machine made of it follows.
pub fn input_of(batch: &[Record]) -> Option<Input> {
    let first = batch.first()?;
    let what = match &first.event {
        Event::Recovered { .. } => return None,
        Event::Opened { .. } => What::Open,
        Event::Entered { .. } => What::Enter(entry(batch)?),
        Event::Corrected { because, .. } => {
            let (mut values, mut entries) = (IndexMap::new(), Vec::new());
            for record in batch {
                if let Event::Corrected { entry, typed, .. } = &record.event {
                    values.extend(typed.clone());
                    entries.push(*entry);
                }
            }
            // Several together were the latest of their names; one alone may have been an older one.
            let entry = if let [one] = entries.as_slice() { Some(*one) } else { None };
            What::Correct { entry, values, because: because.clone() }
        }
        Event::Skipped { because, .. } => What::Skip { because: because.clone() },
        Event::Accepted { because, .. } => What::Accept { because: because.clone() },
        Event::Supplied { path, typed, source, .. } => {
            What::Supply { path: path.clone(), typed: typed.clone(), source: source.clone() }
        }
        Event::Amended { plan, changed, because } => {
            What::Amend { plan: plan.clone(), changed: changed.clone(), because: because.clone() }
        }
        Event::Called { procedure, .. } => What::Call { procedure: procedure.clone() },
        Event::TakenBack { .. } => What::TakeBack,
        Event::Pausing { .. } => What::Pause,
        Event::Resumed { .. } => What::Resume,
        Event::Noted { text, .. } => What::Note(text.clone()),
        Event::Attached { evidence, .. } => What::Attach(evidence.clone()),
        Event::LogKept(kept) => What::KeepLog(kept.clone()),
        Event::Stream { name, turn: StreamStatus::Reached | StreamStatus::Left, value: Some(value), .. } => {
            What::Sample { name: name.clone(), value: value.clone() }
        }
        Event::Stream { name, turn, note, .. } => What::Stream { name: name.clone(), turn: *turn, note: note.clone() },
        Event::Abandoned { because, decided_in: None } => What::Abandon { because: because.clone() },
        _ => What::Tick,
    };
    Some(Input { at: first.at, entered_at: first.entered_at, by: first.by.clone(), origin: first.origin, what })
}

/// One entry may have stood for several items; it named its item if there is only one.
fn entry(batch: &[Record]) -> Option<Entry> {
    let mut entries = batch.iter().filter(|record| matches!(record.event, Event::Entered { .. }));
    let Event::Entered { address, typed, with, witness, evidence, read, .. } = &entries.next()?.event else {
        return None;
    };
    let several = entries.next().is_some();
    Some(Entry {
        step: address.step.clone(),
        item: (!several && !address.item.is_empty()).then(|| address.item.clone()),
        typed: typed.clone(),
        with: with.clone(),
        witness: match witness {
            Some(Witness::By(name)) => Some(name.clone()),
            _ => None,
        },
        evidence: evidence.clone(),
        read: read.clone(),
    })
}

/// How many answers of one time, that of the last event, have been recorded.
pub fn answers_at_the_last_time(records: &[Record], ends: &[u64]) -> usize {
    let Some(last) = records.last().map(entered) else { return 0 };
    batches(records, ends)
        .iter()
        .filter_map(|batch| Some((batch.first()?, input_of(batch)?)))
        .filter(|(first, input)| {
            let given = match input.origin {
                Origin::Answers => !matches!(input.what, What::Open | What::Tick),
                // An answer that took the reading of a reader.
                Origin::Log => matches!(input.what, What::Enter(_)),
                Origin::Typed | Origin::Page => false,
            };
            entered(first) == last && given
        })
        .count()
}

/// When an event was entered: what happened earlier may be entered late.
pub fn entered(record: &Record) -> crate::moment::Moment {
    record.entered_at.unwrap_or(record.at)
}
