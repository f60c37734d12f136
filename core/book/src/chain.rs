//! Lines as bytes: each has the hash of the line before.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::line::{Entry, FORMAT, Line, What};

#[derive(Serialize, Deserialize)]
struct Kept {
    #[serde(default = "first", skip_serializing_if = "is_first")]
    format: u64,
    prev: String,
    seq: u64,
    #[serde(flatten)]
    entry: Entry,
}

fn first() -> u64 {
    1
}

fn is_first(format: &u64) -> bool {
    *format == 1
}

/// Why a line is not read that nobody is accused of.
pub const NEWER: &str = "was written by a newer version of this program";

pub fn hash(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// A line with its line feed.
pub fn written(format: u64, seq: u64, prev: &str, entry: &Entry) -> String {
    let kept = Kept { format, prev: prev.to_owned(), seq, entry: entry.clone() };
    // Texts, whole numbers and a truth: nothing that has no JSON.
    let mut line = serde_json::to_string(&kept).unwrap_or_default();
    line.push('\n');
    line
}

/// One line without its line feed; only as it would be written, so that nothing doubled or unknown hides in it.
pub fn one(bytes: &[u8], seq: u64, prev: &str) -> Result<Line, &'static str> {
    let line = alone(bytes)?;
    if (line.seq, line.after.as_str()) != (seq, prev) {
        return Err("does not follow from the line before");
    }
    Ok(line.line())
}

/// A line whose neighbours are not known.
pub struct Alone {
    pub format: u64,
    pub seq: u64,
    pub entry: Entry,
    pub hash: String,
    /// Hash of the line before, as it says.
    pub after: String,
}

impl Alone {
    pub fn line(self) -> Line {
        Line { format: self.format, seq: self.seq, entry: self.entry, hash: self.hash }
    }
}

pub fn alone(bytes: &[u8]) -> Result<Alone, &'static str> {
    #[derive(Deserialize)]
    struct Said {
        #[serde(default = "first")]
        format: u64,
    }
    const NONE: &str = "is not a line of a book";
    // First: of a newer format nothing else need be understood.
    match serde_json::from_slice(bytes) {
        Ok(Said { format: ..=FORMAT }) => {}
        Ok(_) => return Err(NEWER),
        Err(_) => return Err(NONE),
    }
    let Kept { format, prev, seq, entry } = serde_json::from_slice(bytes).map_err(|_| NONE)?;
    if written(format, seq, &prev, &entry).trim_end_matches('\n').as_bytes() != bytes {
        return Err("is not as it was written");
    }
    let fits = format == entry.format() || entry.what == What::Begun;
    if !fits || (entry.what == What::Signed) != entry.signature.is_some() {
        return Err(NONE);
    }
    Ok(Alone { format, seq, entry, hash: hash(bytes), after: prev })
}

/// Errors: number of the first line that does not hold, and why.
pub fn read(bytes: &[u8]) -> Result<Vec<Line>, (u64, &'static str)> {
    let mut lines: Vec<Line> = Vec::new();
    for text in whole(bytes).split(|byte| *byte == b'\n').filter(|text| !text.is_empty()) {
        let seq = lines.len() as u64 + 1;
        let prev = lines.last().map_or("", |line| &line.hash);
        let line = one(text, seq, prev).map_err(|why| (seq, why))?;
        lines.push(line);
    }
    match lines.is_empty() {
        true => Err((1, "is missing: an empty file is not a book")),
        false => Ok(lines),
    }
}

/// Without a line at the end that was never finished.
pub fn whole(bytes: &[u8]) -> &[u8] {
    let end = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    &bytes[..end]
}
