//! The book while something is entered.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::Duration;

use standpipe_diagnostic::Diagnostic;
use standpipe_disk::NotHeld;

use crate::line::{Entry, Line};
use crate::{chain, faulty, unread};

/// Another job is entered within milliseconds; who waits longer waits for something that hangs.
const TRIES: u32 = 100;
const BETWEEN: Duration = Duration::from_millis(50);
/// A line is far shorter.
const TAIL: u64 = 16 << 10;

/// Nobody else enters as long as it lives.
#[derive(Debug)]
pub struct Held {
    path: PathBuf,
    file: File,
    /// Of the last line.
    seq: u64,
    head: String,
    /// Of its whole lines, in bytes.
    length: u64,
    _lock: standpipe_disk::Held,
}

impl Held {
    pub(crate) fn take(folder: &Path, path: &Path) -> Result<Self, Box<Diagnostic>> {
        let told = |fault: std::io::Error| faulty(path, format!("nothing can be entered in the book: {fault}"));
        let lock = locked(&folder.join("book.lock"), path)?;
        let file = standpipe_disk::append(path, false).map_err(told)?;
        let (seq, head, length) = last(path)?;
        Ok(Self { path: path.to_owned(), file, seq, head, length, _lock: lock })
    }

    /// Enters a line. Returns when it is on the disk.
    pub fn enter(mut self, entry: &Entry) -> Result<Line, Box<Diagnostic>> {
        let seq = self.seq + 1;
        let format = entry.format();
        let text = chain::written(format, seq, &self.head, entry);
        let put = |file: &mut File, length: u64| {
            // What an interrupted write left there was told to nobody.
            file.set_len(length)?;
            file.write_all(text.as_bytes())?;
            file.sync_data()
        };
        put(&mut self.file, self.length).map_err(|fault| {
            let _ = self.file.set_len(self.length);
            faulty(&self.path, format!("it could not be entered in the book: {fault}"))
        })?;
        let hash = chain::hash(text.trim_end_matches('\n').as_bytes());
        Ok(Line { format, seq, entry: entry.clone(), hash })
    }
}

fn locked(lock: &Path, path: &Path) -> Result<standpipe_disk::Held, Box<Diagnostic>> {
    let mut tries = 0;
    loop {
        match standpipe_disk::hold(lock) {
            Ok(held) => return Ok(held),
            Err(NotHeld::Fault(fault)) => {
                return Err(faulty(path, format!("nothing can be entered in the book: {fault}")));
            }
            Err(_) if tries < TRIES => {
                tries += 1;
                sleep(BETWEEN);
            }
            Err(NotHeld::Here(_)) => return Err(faulty(path, "another run holds the book")),
            Err(NotHeld::Elsewhere { computer, file, .. }) => {
                let help = format!("if it ended there without a word, as in a power cut, delete `{}`", file.display());
                return Err(Box::new(faulty(path, format!("the computer {computer} holds the book")).help(help)));
            }
        }
    }
}

/// Number and hash of the last whole line, and where it ends. Only the end is read: that all of it holds is for an audit to say.
fn last(path: &Path) -> Result<(u64, String, u64), Box<Diagnostic>> {
    let read = || -> std::io::Result<(Vec<u8>, u64)> {
        let mut file = standpipe_disk::open(path)?;
        let length = file.seek(SeekFrom::End(0))?;
        let start = length.saturating_sub(TAIL);
        file.seek(SeekFrom::Start(start))?;
        let mut tail = Vec::new();
        file.take(TAIL).read_to_end(&mut tail)?;
        Ok((tail, start))
    };
    let (tail, start) = read().map_err(|fault| faulty(path, fault.to_string()))?;
    let whole = chain::whole(&tail);
    let text = whole.strip_suffix(b"\n").and_then(|text| text.rsplit(|byte| *byte == b'\n').next()).unwrap_or_default();
    let line = chain::alone(text).map_err(|why| unread(path, "its last line", why))?;
    Ok((line.seq, line.hash, start + whole.len() as u64))
}
