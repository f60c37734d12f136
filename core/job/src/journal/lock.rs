//! Keeps a second writer out. Readers need no lock.

use std::path::Path;

use super::folder;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_disk::{Held, NotHeld};

/// Locks the journal of a folder for writing, as long as it is kept.
///
/// The lock is on a file of its own, which stays when the lock is gone: where locks are mandatory, one on the journal
/// would keep readers out, and a lock file that is deleted can be held twice.
pub(super) fn lock(dir: &Path) -> Result<Held, Box<Diagnostic>> {
    let path = dir.join("lock");
    standpipe_disk::hold(&path).map_err(|why| match why {
        NotHeld::Here(process) => {
            let process = process.map(|process| format!(" (process {process})")).unwrap_or_default();
            let message = format!("the journal `{}` is being written by another run{process}", dir.display());
            in_use(dir, message, "pause or end the other run first, then run this again".to_owned())
        }
        NotHeld::Elsewhere { computer, process, file } => {
            let message = format!(
                "the journal `{}` is being written on another computer: {computer} (process {process})",
                dir.display()
            );
            let help = format!(
                "pause or end it there first; if it ended without a word, as in a power cut, delete `{}`",
                file.display()
            );
            in_use(dir, message, help)
        }
        NotHeld::Fault(fault) => folder::unwritten(&path, &fault),
    })
}

fn in_use(dir: &Path, message: String, help: String) -> Box<Diagnostic> {
    let problem = Diagnostic::error(Code::JournalInUse, &folder::place_of(dir), message);
    Box::new(problem.expected("one writer at a time; `report` and `jobs` may read meanwhile").help(help))
}
