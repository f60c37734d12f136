//! Signatures in the book that lies beside the jobs: the time in a signature is what whoever signed says, that in the book is not.

use std::collections::HashMap;
use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use sha2::{Digest, Sha256};
use standpipe_book::{Book, Entry, Signature, What};
use standpipe_job::Moment;
use standpipe_library::Act;

use crate::folder::{Beside, named};

/// What the book says of signatures, by the names of their files.
pub type Entered = HashMap<String, InBook>;

/// When a signature was entered.
#[derive(Clone, Debug, PartialEq, Eq, JsonSchema, Serialize)]
pub struct InBook {
    pub line: u64,
    #[schemars(with = "String")]
    pub at: Moment,
    /// Not entered as it was made, but found missing afterwards.
    pub late: bool,
    #[serde(skip)]
    pub after: After,
}

/// A time before which a line of the book was not there, whatever time it has itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct After {
    pub at: Moment,
    /// The line that says so: the line itself or one before it.
    pub line: u64,
    /// By a stamp of that line, which was asked for while it was the last one. It may have been on its way for long.
    pub stamped: bool,
}

impl InBook {
    /// Whether it may have been made long before all the same.
    pub fn is_doubtful(&self) -> bool {
        self.late || self.after.stamped
    }
}

pub fn file_hash(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// What is entered of a signature with these bytes, of an act that the line with this number and hash keeps.
pub(crate) fn entry(job: &str, dir: &Path, (line, head, act): (u64, &str, Act), bytes: &[u8], at: Moment) -> Entry {
    Entry {
        what: What::Signed,
        job: job.to_owned(),
        folder: Book::name_of(dir),
        of: line,
        head: head.to_owned(),
        at: at.to_string(),
        late: false,
        signature: Some(Signature { act: act.word().to_owned(), file: file_hash(bytes) }),
    }
}

impl Beside {
    /// What the book has to say of it. None where it is no signature that holds, or of no line with one of these hashes.
    pub fn due(&self, job: &str, dir: &Path, heads: &[String], at: Moment) -> Option<Entry> {
        self.stray()?;
        let (head, act) = named(&self.name)?;
        let line = heads.iter().position(|it| it == head)? as u64 + 1;
        Some(entry(job, dir, (line, head, act), self.bytes.as_ref().ok()?, at))
    }
}
