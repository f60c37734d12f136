//! An answers file: what people would type, with times and names, for a run that asks nobody.

mod check;
mod raw;
mod when;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use indexmap::IndexMap;
use jiff::civil::Time;

pub use raw::schema;
pub use when::When;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_job::{Address, Entry, What};
use standpipe_log::Choices;
use standpipe_yaml::{self as yaml, At, Node};

#[derive(Clone, Debug)]
pub struct Answers {
    pub id: At<String>,
    pub title: Option<String>,
    pub invented: bool,
    pub sources: Option<Node>,
    /// The job file they are for, relative to the answers file.
    pub job: Option<At<String>>,
    pub list: Vec<Answer>,
}

#[derive(Clone, Debug)]
pub struct Answer {
    /// Its first line.
    pub place: Place,
    /// The step it is meant for. Other than an entry, an answer need not name one.
    pub step: Option<At<String>>,
    pub at: When,
    /// For something entered later than it was done.
    pub entered_at: Option<When>,
    pub by: String,
    pub given: Given,
}

/// What an answer says. Files are copied, and bare words understood, only when its turn has come.
#[derive(Clone, Debug)]
pub enum Given {
    Enter {
        entry: Entry,
        /// `enter: done` or `enter: option` rather than values by name.
        bare: Option<At<String>>,
        evidence: Vec<At<String>>,
        /// Values that are not entered come from this log.
        log: Option<Box<FromLog>>,
    },
    Attach(At<String>),
    /// A correction of the entry at this address rather than of the latest.
    Correct {
        entry: At<Address>,
        values: IndexMap<String, String>,
        because: String,
    },
    What(What),
}

/// A log that an answer takes values from.
#[derive(Clone, Debug)]
pub struct FromLog {
    pub file: At<String>,
    pub instrument: Option<At<String>>,
    /// Columns by the names of values.
    pub reads: IndexMap<String, String>,
    pub starts: Option<Time>,
    pub choices: Choices,
}

impl Answers {
    /// Reads an answers file; `None` if any of it can't be used.
    pub fn read(source: &Arc<Source>, problems: &mut Problems) -> Option<Answers> {
        let before = problems.len();
        let raw: raw::RawAnswers = yaml::read(source, problems)?;
        let answers = check::check(raw, problems);
        (!problems[before..].iter().any(|problem| problem.is_error())).then_some(answers)
    }
}
