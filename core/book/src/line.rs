//! One line of the book.

use serde::{Deserialize, Serialize};

/// What became of a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// The book itself: its first line.
    Begun,
    Opened,
    Paused,
    Finished,
    Abandoned,
    /// An act of it was signed by key.
    Signed,
}

/// A line says its format where it is not the first: signatures, and the begin of a book in which they are entered.
pub const FORMAT: u64 = 2;

impl What {
    pub fn words(self) -> &'static str {
        match self {
            What::Begun => "begun",
            What::Opened => "opened",
            What::Paused => "paused",
            What::Finished => "finished",
            What::Abandoned => "abandoned",
            What::Signed => "signed",
        }
    }

    /// Nothing follows in its journal.
    pub fn closes(self) -> bool {
        matches!(self, What::Finished | What::Abandoned)
    }
}

/// What is entered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    pub what: What,
    pub job: String,
    /// The name of the job's folder.
    pub folder: String,
    /// Number of the journal's last event then; of a signature, that of the act.
    pub of: u64,
    /// SHA-256 of that line of the journal, without its line feed.
    pub head: String,
    /// When it happened, as the journal says; of a signature, when it was entered.
    pub at: String,
    /// Not entered when it happened, but found missing afterwards.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub late: bool,
    /// Of a signature alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signature: Option<Signature>,
}

/// The file of a signature, beside the journal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signature {
    /// What was signed: one line of a journal may keep more acts than one.
    pub act: String,
    /// SHA-256 of the file.
    pub file: String,
}

impl Entry {
    pub(crate) fn begun(at: &str) -> Self {
        let none = String::new;
        Self {
            what: What::Begun,
            job: none(),
            folder: none(),
            of: 0,
            head: none(),
            at: at.to_owned(),
            late: false,
            signature: None,
        }
    }

    /// What a program must know to read it.
    pub(crate) fn format(&self) -> u64 {
        if self.what == What::Signed { FORMAT } else { 1 }
    }
}

/// What stands in the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    pub format: u64,
    /// From 1.
    pub seq: u64,
    pub entry: Entry,
    /// SHA-256 of this line without its line feed: whoever has it can tell any change of what stands before.
    pub hash: String,
}

impl Line {
    /// From here on signatures are entered: the book was begun so, or one is.
    pub fn keeps_signatures(&self) -> bool {
        self.format >= FORMAT
    }
}
