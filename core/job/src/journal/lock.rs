//! Keeps a second writer out. Readers need no lock.

use std::fs::{File, TryLockError};
use std::io::{self, Read, Seek, Write};
use std::path::Path;

use super::folder;
use standpipe_diagnostic::{Code, Diagnostic};

/// Held as long as it lives; the operating system lets go of it when the process ends, however it ends.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

/// Locks the journal of a folder for writing.
///
/// The lock is on a file of its own, which stays when the lock is gone: where locks are mandatory, one on the journal
/// would keep readers out, and a lock file that is deleted can be held twice.
pub(super) fn lock(dir: &Path) -> Result<Lock, Box<Diagnostic>> {
    let path = dir.join("lock");
    let mut file = standpipe_disk::lock(&path).map_err(|fault| folder::unwritten(&path, &fault))?;
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => return Err(in_use(dir, &mut file).into()),
        Err(TryLockError::Error(fault)) => {
            let message = format!("the journal can't be locked against a second writer: {fault}");
            return Err(Diagnostic::error(Code::JournalInUse, &folder::place_of(&path), message)
                .help("keep the journal on a disk of this computer: `--journal DIR`")
                .into());
        }
    }
    // Only tells people whom to look for; a lock without it is a lock all the same.
    let _ = write_owner(&mut file);
    Ok(Lock { _file: file })
}

fn write_owner(file: &mut File) -> io::Result<()> {
    // What else it holds may be another file under a second name.
    if file.metadata()?.len() > 0 && owner(file).is_none() {
        return Ok(());
    }
    file.set_len(0)?;
    file.rewind()?;
    write!(file, "{}", std::process::id())
}

/// The process that an earlier writer left its number of; nothing where the file holds anything else.
fn owner(file: &mut File) -> Option<u32> {
    let mut owner = String::new();
    file.take(20).read_to_string(&mut owner).ok()?;
    owner.parse().ok()
}

fn in_use(dir: &Path, file: &mut File) -> Diagnostic {
    let who = owner(file).map(|owner| format!(" (process {owner})")).unwrap_or_default();
    Diagnostic::error(
        Code::JournalInUse,
        &folder::place_of(dir),
        format!("the journal `{}` is being written by another run{who}", dir.display()),
    )
    .expected("one writer at a time; `report` and `jobs` may read meanwhile")
    .help("pause or end the other run first, then run this again")
}
