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
}

impl What {
    pub fn words(self) -> &'static str {
        match self {
            What::Begun => "begun",
            What::Opened => "opened",
            What::Paused => "paused",
            What::Finished => "finished",
            What::Abandoned => "abandoned",
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
    /// Number of the journal's last event then.
    pub of: u64,
    /// SHA-256 of the journal's last line then, without its line feed.
    pub head: String,
    /// When it happened, as the journal says.
    pub at: String,
    /// Not entered when it happened, but found missing afterwards.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub late: bool,
}

impl Entry {
    pub(crate) fn begun(at: &str) -> Self {
        let none = String::new;
        Self { what: What::Begun, job: none(), folder: none(), of: 0, head: none(), at: at.to_owned(), late: false }
    }
}

/// What stands in the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// From 1.
    pub seq: u64,
    pub entry: Entry,
    /// SHA-256 of this line without its line feed: whoever has it can tell any change of what stands before.
    pub hash: String,
}
