//! What of a job is entered in the book that lies beside it.

use std::path::Path;

use standpipe_book::{Book, Entry, Held, What};
use standpipe_diagnostic::Diagnostic;

use crate::event::{Event, Record};

/// What is entered of an event, if anything is.
pub fn booked(event: &Event) -> Option<What> {
    match event {
        Event::Opened { .. } => Some(What::Opened),
        Event::Paused { .. } => Some(What::Paused),
        Event::Finished => Some(What::Finished),
        Event::Abandoned { .. } => Some(What::Abandoned),
        _ => None,
    }
}

/// An entry that waits for its journal to be on the disk; nobody else enters meanwhile.
pub(super) struct Entering {
    held: Held,
    entry: Entry,
}

impl Entering {
    /// None where no book lies beside the job, or nothing of this is entered.
    ///
    /// Errors: nothing can be entered now.
    pub(super) fn of(dir: &Path, job: &str, records: &[Record]) -> Result<Option<Self>, Box<Diagnostic>> {
        let said = records.iter().rev().find_map(|record| Some((booked(&record.event)?, record)));
        let (Some((what, record)), Some(last)) = (said, records.last()) else { return Ok(None) };
        let Some(book) = Book::beside(dir) else { return Ok(None) };
        let entry = Entry {
            what,
            job: job.to_owned(),
            folder: Book::name_of(dir),
            of: last.seq,
            head: String::new(),
            at: record.at.to_string(),
            late: false,
            signature: None,
        };
        Ok(Some(Self { held: book.hold()?, entry }))
    }

    /// `head`: of the journal as it is on the disk now.
    pub(super) fn enter(self, head: String) -> Result<(), Box<Diagnostic>> {
        let entry = Entry { head, ..self.entry };
        self.held.enter(&entry).map(drop).map_err(|fault| {
            let kept =
                "it is kept in the journal all the same: once the book can be written, `standpipe book JOBS --enter`";
            Box::new(fault.help(kept))
        })
    }
}
