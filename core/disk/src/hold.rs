//! One writer at a time, on this computer and on others that share the folder.
//!
//! A lock of the system lets go by itself when its process ends, however it ends; but on many a network folder no computer sees
//! the locks of another. So whoever holds the lock names itself in a file beside it, which only one can make.

use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::Duration;

use crate::{create, lock, text};

/// A name that is being written is there after this; one that is not was never finished.
const UNFINISHED: Duration = Duration::from_millis(100);
const LOOKS: u32 = 10;
const LONGEST: u64 = 1 << 10;

/// Held as long as it lives.
#[derive(Debug)]
pub struct Held {
    /// The file that names this process, and what it says.
    beside: PathBuf,
    said: String,
    _lock: File,
}

/// Why something is not held.
#[derive(Debug)]
pub enum NotHeld {
    /// By a process of this computer; its number, where that is known.
    Here(Option<u32>),
    /// By a process of another computer; or it was, when that one went down.
    Elsewhere {
        computer: String,
        process: u32,
        /// The file that says so.
        file: PathBuf,
    },
    Fault(io::Error),
}

/// Holds what a file stands for: it is locked, and beside it lies who holds it.
pub fn hold(path: &Path) -> Result<Held, NotHeld> {
    hold_as(path, &computer())
}

fn hold_as(path: &Path, computer: &str) -> Result<Held, NotHeld> {
    let file = lock(path).map_err(NotHeld::Fault)?;
    let beside = holder(path);
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => return Err(NotHeld::Here(who(&beside).map(|(_, process)| process))),
        Err(TryLockError::Error(fault)) => return Err(NotHeld::Fault(fault)),
    }
    let said = format!("{} {computer}\n", std::process::id());
    let mut looks = 0;
    loop {
        match create(&beside) {
            Ok(mut made) => {
                made.write_all(said.as_bytes()).map_err(NotHeld::Fault)?;
                return Ok(Held { beside, said, _lock: file });
            }
            Err(fault) if fault.kind() != io::ErrorKind::AlreadyExists => return Err(NotHeld::Fault(fault)),
            Err(_) => {}
        }
        match who(&beside) {
            // Nobody else of this computer has the lock: it was left behind.
            Some((other, _)) if other == computer => remove(&beside)?,
            Some((computer, process)) => return Err(NotHeld::Elsewhere { computer, process, file: beside }),
            None if looks < LOOKS => {
                looks += 1;
                sleep(UNFINISHED);
            }
            None => remove(&beside)?,
        }
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        // It may have been deleted by hand and be somebody else's by now.
        if text(&self.beside, LONGEST).is_ok_and(|found| found == self.said) {
            let _ = fs::remove_file(&self.beside);
        }
    }
}

fn holder(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".holder");
    path.with_file_name(name)
}

fn who(beside: &Path) -> Option<(String, u32)> {
    let text = text(beside, LONGEST).ok()?;
    let (process, computer) = text.strip_suffix('\n')?.split_once(' ')?;
    Some((computer.to_owned(), process.parse().ok()?))
}

fn remove(beside: &Path) -> Result<(), NotHeld> {
    match fs::remove_file(beside) {
        Err(fault) if fault.kind() != io::ErrorKind::NotFound => Err(NotHeld::Fault(fault)),
        _ => Ok(()),
    }
}

#[cfg(unix)]
fn computer() -> String {
    rustix::system::uname().nodename().to_string_lossy().into_owned()
}

#[cfg(not(unix))]
fn computer() -> String {
    std::env::var("COMPUTERNAME").unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> (tempfile::TempDir, PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("lock");
        (dir, path)
    }

    #[test]
    fn one_process_at_a_time_holds_it_and_leaves_no_name() {
        let (_dir, path) = folder();
        let held = hold(&path).unwrap();
        assert!(matches!(hold(&path), Err(NotHeld::Here(Some(process))) if process == std::process::id()));
        drop(held);
        assert!(!holder(&path).exists());
        assert!(hold(&path).is_ok());
    }

    /// The lock of another computer is not seen: only its name is there.
    #[test]
    fn another_computer_is_kept_out_until_its_name_is_gone() {
        let (_dir, path) = folder();
        let held = hold_as(&path, "bay-2").unwrap();
        fs::remove_file(&path).unwrap();
        let Err(NotHeld::Elsewhere { computer, process, file }) = hold_as(&path, "office") else {
            panic!("two hold it")
        };
        assert_eq!((computer.as_str(), process, &file), ("bay-2", std::process::id(), &holder(&path)));
        // It went down, and somebody says so.
        fs::remove_file(&file).unwrap();
        let other = hold_as(&path, "office").unwrap();
        drop(held);
        assert!(holder(&path).exists(), "it was not its own any more");
        drop(other);
        assert!(!holder(&path).exists());
    }

    #[test]
    fn what_this_computer_left_behind_or_nobody_finished_is_taken() {
        let (_dir, path) = folder();
        for left in ["1 office\n", "", "1 off", "no number\n"] {
            fs::write(holder(&path), left).unwrap();
            let held = hold_as(&path, "office").unwrap_or_else(|fault| panic!("{left:?}: {fault:?}"));
            assert!(fs::read_to_string(holder(&path)).unwrap().ends_with(" office\n"), "{left:?}");
            drop(held);
        }
    }
}
