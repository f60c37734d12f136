//! No byte of a journal can be another one, be left out or come twice, and nobody notices.

use std::fs;
use std::path::Path;

use standpipe::job::Journal;
use tempfile::TempDir;

use crate::audit::bench::{example, forge, sha256};

/// The first entries of a job, with a plan of a few bytes: every variant is read whole.
fn short() -> (TempDir, Vec<u8>) {
    let folder = TempDir::new().unwrap();
    example("heron-taxi", folder.path());
    let plan = folder.path().join("plan.json");
    let named = sha256(&fs::read(&plan).unwrap());
    fs::write(&plan, "{}").unwrap();
    forge(folder.path(), |_, line| line.replace(&named, &sha256(b"{}")));
    let path = folder.path().join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    // A batch that is not ended has not been written whole.
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let ends = lines.iter().take(7).rposition(|line| line.contains("\"end\":true")).unwrap();
    fs::write(&path, lines[..=ends].concat()).unwrap();
    let bytes = fs::read(folder.path().join("journal.jsonl")).unwrap();
    assert!(is_whole(folder.path()), "the one that was not touched");
    (folder, bytes)
}

fn is_whole(folder: &Path) -> bool {
    Journal::read(folder).is_ok_and(|contents| contents.problems.is_empty())
}

#[test]
fn every_byte_that_is_changed_is_found() {
    let (folder, bytes) = short();
    let path = folder.path().join("journal.jsonl");
    let unseen: Vec<usize> = (0..bytes.len())
        .filter(|&at| {
            let mut changed = bytes.clone();
            // Another bit each time.
            changed[at] ^= 1 << (at % 8);
            fs::write(&path, &changed).unwrap();
            is_whole(folder.path())
        })
        .collect();
    assert!(bytes.len() > 1_500, "{} bytes", bytes.len());
    assert_eq!(unseen, [] as [usize; 0]);
}

#[test]
fn every_byte_that_is_missing_or_doubled_is_found() {
    let (folder, bytes) = short();
    let path = folder.path().join("journal.jsonl");
    let mut unseen = Vec::new();
    for at in 0..bytes.len() {
        let without = [&bytes[..at], &bytes[at + 1..]].concat();
        let doubled = [&bytes[..=at], &bytes[at..]].concat();
        for changed in [without, doubled] {
            fs::write(&path, &changed).unwrap();
            if is_whole(folder.path()) {
                unseen.push(at);
            }
        }
    }
    assert_eq!(unseen, [] as [usize; 0]);
}
