//! What comes in, and why it may be refused.

use crate::moment::Moment;
use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use super::event::{EvidenceRef, KeptLog, Origin, ReadFrom, StreamStatus};
use crate::said::StreamNote;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_procedure::Misread;
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Input {
    pub at: Moment,
    pub entered_at: Option<Moment>,
    pub by: String,
    pub origin: Origin,
    pub what: What,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    Open,
    /// An entry for the step that is asked.
    Enter(Entry),
    /// New values for the latest entry of a name; or for the entry of this number, where a name was entered often.
    Correct {
        entry: Option<u64>,
        values: IndexMap<String, String>,
        because: String,
    },
    Skip {
        because: String,
    },
    Accept {
        because: String,
    },
    Supply {
        path: String,
        typed: String,
        source: String,
    },
    /// Goes on by the plan of this hash, which the machine that decides it has.
    Amend {
        plan: String,
        changed: Vec<String>,
        because: String,
    },
    Call {
        procedure: String,
    },
    /// The procedure that was called last had been called by mistake.
    TakeBack,
    Pause,
    /// Goes on after a pause, or takes the work over from another.
    Resume,
    Note(String),
    Attach(EvidenceRef),
    /// A log of readings that is kept already, with its verdicts.
    KeepLog(Box<KeptLog>),
    Abandon {
        because: String,
    },
    /// A reading of a reader that is followed. It is recorded only where it reaches or leaves the awaited range.
    Sample {
        name: String,
        value: Value,
    },
    /// What became of a reader that is followed.
    Stream {
        name: String,
        turn: StreamStatus,
        note: Option<StreamNote>,
    },
    /// Time has passed, nothing else.
    Tick,
}

#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Entry {
    pub step: String,
    /// One item of an `each`; without it an entry stands for all that is left of the pass.
    pub item: Option<String>,
    /// What was typed for each name. An entry that only confirms is empty.
    pub typed: IndexMap<String, String>,
    pub with: IndexMap<String, String>,
    pub witness: Option<String>,
    pub evidence: Vec<EvidenceRef>,
    pub read: Option<Box<ReadFrom>>,
}

/// What of an input does not fit: a page or a terminal leads back to it without reading the message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unfit {
    /// The job does not ask for this where it stands.
    Step,
    /// What was entered for a name; the field says which.
    Value,
    Instrument,
    Evidence,
    /// Who did it, signs it or looked on.
    Person,
    Time,
    /// A reason or a source that is missing.
    Reason,
}

/// Why an input is not taken. Nothing is recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    pub code: Code,
    pub unfit: Unfit,
    /// The name whose value, instrument or person it is, where it is that of one.
    pub field: Option<String>,
    pub message: String,
    pub expected: Option<String>,
    pub help: Option<String>,
}

impl Refusal {
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        let unfit = match code {
            Code::UnknownPerson => Unfit::Person,
            Code::TimeReversed => Unfit::Time,
            Code::UnfitInstrument => Unfit::Instrument,
            Code::MissingSource => Unfit::Reason,
            _ => Unfit::Step,
        };
        Self { code, unfit, field: None, message: message.into(), expected: None, help: None }
    }

    pub fn misread(name: &str, misread: Misread) -> Self {
        let message = format!("`{name}`: found {}", misread.found);
        let refusal = Self::new(Code::UnfitAnswer, message).unfit(Unfit::Value).of(name).expected(misread.expected);
        Self { help: misread.help, ..refusal }
    }

    pub fn unfit(mut self, unfit: Unfit) -> Self {
        self.unfit = unfit;
        self
    }

    /// Names the field that it is about.
    pub fn of(mut self, field: &str) -> Self {
        self.field = Some(field.to_owned());
        self
    }

    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = Some(expected.into());
        self
    }

    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// As a message at the place of the answer.
    pub fn at(self, place: &Place) -> Diagnostic {
        let mut diagnostic = Diagnostic::error(self.code, place, self.message);
        diagnostic.expected = self.expected;
        diagnostic.help = self.help;
        diagnostic
    }
}
