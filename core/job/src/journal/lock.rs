//! Keeps a second writer out. Readers need no lock.

use std::fs::{File, OpenOptions, TryLockError};
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
    let opened = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path);
    let mut file = opened.map_err(|fault| folder::unwritten(&path, &fault))?;
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
    file.set_len(0)?;
    file.rewind()?;
    write!(file, "{}", std::process::id())
}

fn in_use(dir: &Path, file: &mut File) -> Diagnostic {
    let mut owner = String::new();
    let known = file.take(20).read_to_string(&mut owner).is_ok() && owner.parse::<u32>().is_ok();
    let who = if known { format!(" (process {owner})") } else { String::new() };
    Diagnostic::error(
        Code::JournalInUse,
        &folder::place_of(dir),
        format!("the journal `{}` is being written by another run{who}", dir.display()),
    )
    .expected("one writer at a time; `report` and `jobs` may read meanwhile")
    .help("pause or end the other run first, then run this again")
}
