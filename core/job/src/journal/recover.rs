//! What an interrupted write left behind is moved aside, and a `recovered` event says so.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use indexmap::IndexSet;

use crate::event::{Event, Record};

/// Keeps torn bytes beside the journal and cuts them off it. In this order, so that they are never in neither.
pub(super) fn move_aside(dir: &Path, journal: &File, bytes: &[u8], sound: usize) -> Result<(), (PathBuf, io::Error)> {
    let torn = &bytes[sound..];
    let last = (1..).map(|n| torn_file(dir, n)).take_while(|path| path.exists()).count() as u64;
    // Interrupted between the two, last time: the bytes are there already.
    let saved =
        last > 0 && standpipe_disk::bytes(&torn_file(dir, last), torn.len() as u64).is_ok_and(|found| found == torn);
    if !saved {
        let path = torn_file(dir, last + 1);
        standpipe_disk::whole(&path, torn).map_err(|fault| (path, fault))?;
    }
    let cut = journal.set_len(sound as u64).and_then(|()| journal.sync_all());
    cut.map_err(|fault| (dir.join(super::LINES), fault))
}

/// How many bytes were moved aside under this name, as a `recovered` event gives it.
///
/// Errors: another name than such a file has, or nothing of that name; a link is followed nowhere.
pub fn moved_aside(dir: &Path, name: &str) -> Result<u64, String> {
    if !is_aside(name) {
        return Err(format!("`{name}` is not what such a file is called"));
    }
    let path = dir.join(name);
    let meta = fs::symlink_metadata(&path).map_err(|fault| format!("{}: {fault}", path.display()))?;
    if meta.is_file() { Ok(meta.len()) } else { Err(format!("{} is not a file", path.display())) }
}

pub(super) fn is_aside(name: &str) -> bool {
    let number = name.strip_prefix("torn-").and_then(|number| number.parse::<u64>().ok());
    number.is_some_and(|number| format!("torn-{number}") == name)
}

fn torn_file(dir: &Path, number: u64) -> PathBuf {
    dir.join(format!("torn-{number}"))
}

/// The events that tell of torn files of which no event tells yet: the process may have ended again before it could.
pub(super) fn events(dir: &Path, records: &[Record]) -> Vec<Record> {
    let Some(last) = records.last() else { return Vec::new() };
    if matches!(last.event, Event::Finished | Event::Abandoned { .. }) {
        return Vec::new();
    }
    let told: IndexSet<&str> = records
        .iter()
        .filter_map(|record| match &record.event {
            Event::Recovered { moved_to, .. } => Some(moved_to.as_str()),
            _ => None,
        })
        .collect();
    let mut events = Vec::new();
    for number in 1.. {
        let Ok(meta) = fs::metadata(torn_file(dir, number)) else { break };
        let moved_to = format!("torn-{number}");
        if told.contains(moved_to.as_str()) {
            continue;
        }
        events.push(Record {
            seq: last.seq + 1 + events.len() as u64,
            // Nobody knows when it was cut off: not before this, and no clock is asked.
            at: last.entered_at.map_or(last.at, |entered| entered.max(last.at)),
            entered_at: None,
            by: String::new(),
            origin: last.origin,
            event: Event::Recovered { bytes: meta.len(), moved_to },
        });
    }
    events
}
