//! Folders that tests work in.

use std::fs;
use std::path::Path;

/// A copy of all that lies in a folder, which a test may change.
pub fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The lines of a journal with the texts that are kept apart in their places.
#[allow(dead_code, reason = "not every suite that copies folders reads journals")]
pub fn journal(folder: &Path) -> String {
    let lines = fs::read_to_string(folder.join("journal.jsonl")).unwrap();
    let apart = fs::read_to_string(folder.join("apart.jsonl")).unwrap();
    apart.lines().fold(lines, |lines, line| {
        let kept: serde_json::Value = serde_json::from_str(line).unwrap();
        lines.replace(&kept["token"].to_string(), &kept["value"].to_string())
    })
}
