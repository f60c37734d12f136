//! What becomes of what was said to a job.

use standpipe_diagnostic::{Code, Problems};
use standpipe_job::{NotKept, Refusal};

/// What became of what was said.
#[derive(Clone, Debug)]
pub enum Told {
    /// It is on the disk, now or since it was said before.
    Kept,
    /// It needs somebody's look first. Nothing is written yet.
    Awaits,
    Refused {
        field: Option<String>,
        words: Vec<String>,
    },
    /// It was made on something that is not asked any more: the number of the last event it knew of.
    Late {
        since: u64,
    },
    /// Another process writes to the job.
    Held(String),
    /// It could not be written, or the job can't be read.
    Fault(String),
    /// Too much is said at once.
    Busy,
}

impl Told {
    pub fn refused(words: impl Into<String>) -> Self {
        Self::Refused { field: None, words: vec![words.into()] }
    }
}

pub(super) fn unkept(fault: NotKept) -> Told {
    match fault {
        NotKept::Refused(refusal) => refused(&refusal),
        NotKept::Late { meanwhile, .. } => Told::Late { since: meanwhile.start.saturating_sub(1) },
        NotKept::Looking => Told::refused("nobody has taken the job here yet: take it first"),
        NotKept::Disk(fault) => Told::Fault(fault.message.clone()),
    }
}

pub(super) fn refused(refusal: &Refusal) -> Told {
    let mut words = vec![refusal.message.clone()];
    words.extend(refusal.expected.iter().map(|text| format!("Expected: {text}")));
    words.extend(refusal.help.clone());
    Told::Refused { field: refusal.field.clone(), words }
}

pub(super) fn faulty(problems: &Problems) -> Told {
    match problems.iter().find(|problem| problem.code == Code::JournalInUse) {
        Some(problem) => Told::Held(problem.message.clone()),
        None => {
            let words: Vec<String> = problems.iter().map(|problem| problem.message.clone()).collect();
            Told::Fault(words.join("; "))
        }
    }
}
