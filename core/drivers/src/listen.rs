//! From what is heard of a reader to what the machine is told: the same for a terminal and for answers.

use standpipe_job::said::StreamNote;
use standpipe_job::{Machine, Phase, State, StreamStatus, What};
use standpipe_quantity::value::Value;
use standpipe_stream::{Heard, Live};

/// Whether a job takes note of readings where it stands.
pub fn is_listening(state: &State) -> bool {
    matches!(state.phase, Phase::Running | Phase::Pausing | Phase::Resuming)
}

/// What the machine is told; nothing of most readings.
pub fn told(machine: &Machine, state: &State, heard: Heard, now: standpipe_job::Moment) -> Option<What> {
    match heard {
        Heard::Sample { name, value } => {
            let value = Value::Quantity(value);
            machine.notices(state, &name, &value, now).then_some(What::Sample { name, value })
        }
        Heard::StreamStatus { name, turn, note } => {
            // Something that was never followed has nothing to go stale.
            let known = state.streams.get(&name)?;
            (known.turn != turn || turn == StreamStatus::Again).then_some(What::Stream { name, turn, note: Some(note) })
        }
    }
}

/// What is said when a reader is first followed; after an earlier sitting there is a gap, which is not shown.
pub fn began(live: &Live, state: &State, name: &str, source: &str, at: standpipe_job::Moment) -> Option<What> {
    let quiet = state.streams.get(name).map(|before| at.duration_since(before.at).as_secs_f64());
    let note = live.described(name, source, quiet)?;
    Some(What::Stream { name: name.to_owned(), turn: StreamStatus::Began, note: Some(note) })
}

/// Whether readings came all through a time that was held.
pub fn covered_as(whole: bool, seconds: f64, gap: f64, name: &str) -> What {
    let turn = if whole { StreamStatus::Covered } else { StreamStatus::NotCovered };
    What::Stream { name: name.to_owned(), turn, note: Some(StreamNote::Held { time: seconds, gap }) }
}
