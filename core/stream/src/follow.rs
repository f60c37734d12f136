//! Bytes of a growing file or of standard input, read in a thread.

use std::fs::{File, Metadata};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    File(PathBuf),
    Standard,
}

#[derive(Debug, PartialEq, Eq)]
pub enum Message {
    /// What was in the file before it was followed.
    History(Vec<u8>),
    Bytes(Vec<u8>),
    /// The file was cut off or another one stands in its place; it is read from its start.
    Anew,
    /// No more will come.
    Over,
    Failed(String),
}

/// Stops the thread when it goes.
pub struct Following {
    pub messages: Receiver<Message>,
    stop: Arc<AtomicBool>,
}

impl Following {
    /// Messages from anywhere.
    pub fn of(messages: Receiver<Message>) -> Self {
        Self { messages, stop: Arc::default() }
    }
}

impl Drop for Following {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// How often a file that does not grow is looked at.
const LOOK: Duration = Duration::from_millis(100);
const CHUNK: usize = 64 << 10;
/// Chunks that wait to be taken; a thread that is further ahead waits.
const WAITING: usize = 64;

/// Begins to follow. Errors: a file that can't be opened.
pub fn follow(source: &Source) -> io::Result<Following> {
    let (sender, messages) = sync_channel(WAITING);
    let stop = Arc::new(AtomicBool::new(false));
    let stopped = stop.clone();
    match source {
        Source::Standard => {
            thread::spawn(move || standard(&sender));
        }
        Source::File(path) => {
            let file = standpipe_disk::stream(path)?;
            let path = path.clone();
            thread::spawn(move || {
                let ended = grow(file, &path, &sender, &stopped);
                if let Err(fault) = ended {
                    // Nobody listens any more where this fails too.
                    let _ = sender.send(Message::Failed(fault.to_string()));
                }
            });
        }
    }
    Ok(Following { messages, stop })
}

fn standard(sender: &SyncSender<Message>) {
    let mut input = io::stdin().lock();
    let mut buffer = vec![0; CHUNK];
    loop {
        let message = match input.read(&mut buffer) {
            Ok(0) => Message::Over,
            Ok(got) => Message::Bytes(buffer[..got].to_vec()),
            Err(fault) if fault.kind() == io::ErrorKind::Interrupted => continue,
            Err(fault) => Message::Failed(fault.to_string()),
        };
        let last = !matches!(message, Message::Bytes(_));
        if sender.send(message).is_err() || last {
            return;
        }
    }
}

fn grow(mut file: File, path: &Path, sender: &SyncSender<Message>, stop: &AtomicBool) -> io::Result<()> {
    let mut known = file.metadata()?;
    let mut history = if known.is_file() { known.len() } else { 0 };
    let mut taken: u64 = 0;
    let mut buffer = vec![0; CHUNK];
    while !stop.load(Ordering::Relaxed) {
        let most = if history > taken { CHUNK.min((history - taken) as usize) } else { CHUNK };
        let got = file.read(&mut buffer[..most])?;
        if got > 0 {
            let bytes = buffer[..got].to_vec();
            let message = if taken < history { Message::History(bytes) } else { Message::Bytes(bytes) };
            taken += got as u64;
            if sender.send(message).is_err() {
                return Ok(());
            }
            continue;
        }
        // At the end: has it been cut off, or does another file stand in its place?
        let cut = file.metadata()?.len() < taken && known.is_file();
        let there = std::fs::metadata(path).ok();
        let replaced = there.as_ref().is_some_and(|there| !same(&known, there));
        if cut || replaced {
            if replaced {
                file = standpipe_disk::stream(path)?;
                known = file.metadata()?;
            } else {
                file.seek(SeekFrom::Start(0))?;
            }
            (taken, history) = (0, 0);
            if sender.send(Message::Anew).is_err() {
                return Ok(());
            }
            continue;
        }
        thread::sleep(LOOK);
    }
    Ok(())
}

#[cfg(unix)]
fn same(a: &Metadata, b: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    (a.dev(), a.ino()) == (b.dev(), b.ino())
}

/// Elsewhere only a file that grew shorter is noticed.
#[cfg(not(unix))]
fn same(_: &Metadata, _: &Metadata) -> bool {
    true
}
