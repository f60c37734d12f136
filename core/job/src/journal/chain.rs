//! One line of a journal: an event, the hash of the line before, and a check sum of its own.
//!
//! `prev` is the SHA-256 of the raw bytes of the line before, without its line feed; the first line takes that of
//! `plan.json`. `sum`, always the last key, is the SHA-256 of the line's own bytes up to its comma: it tells a line that
//! was changed from one that was never finished, and guards the last line, which no other vouches for.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::strict;
use crate::event::{Record, YEARS};
use crate::open::{InputId, Via};

#[derive(Serialize)]
struct Out<'a> {
    prev: &'a str,
    /// Of the input that led to the batch, on its first line, where the input had one.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<InputId>,
    /// The device that it came from, likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    via: Option<&'a Via>,
    #[serde(flatten)]
    record: &'a Record,
    /// The batch ends here: what one input led to is kept as a whole or not at all.
    #[serde(skip_serializing_if = "is_false")]
    end: bool,
}

#[derive(Debug, Deserialize)]
pub(super) struct Line {
    pub prev: String,
    #[serde(default)]
    pub id: Option<InputId>,
    #[serde(default)]
    pub via: Option<Via>,
    #[serde(flatten)]
    pub record: Record,
    #[serde(default)]
    pub end: bool,
}

/// Why a line gives no event.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Unreadable {
    /// Never finished: cut off, or blocks of it never reached the disk.
    Torn,
    /// Whole, but not as it was written.
    Changed,
    /// As it was written, yet not an event that is known here.
    Foreign(String),
}

const SUM_KEY: &str = ",\"sum\":\"";
const SUM_TAIL: usize = SUM_KEY.len() + 64 + "\"}".len();

fn is_false(value: &bool) -> bool {
    !*value
}

pub(super) fn hash(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// The line for an event, without its line feed.
///
/// Errors: an event that would not read back as it is (a number that is not finite), so that it is never recorded.
pub(super) fn encode(
    prev: &str,
    id: Option<InputId>,
    via: Option<&Via>,
    record: &Record,
    end: bool,
) -> Result<String, String> {
    if let Some(at) = odd_time(record) {
        return Err(format!("{at} lies outside the years {} to {}", YEARS.start(), YEARS.end()));
    }
    let mut line = serde_json::to_string(&Out { prev, id, via, record, end }).map_err(|fault| fault.to_string())?;
    let back: Line = serde_json::from_str(&line).map_err(|fault| format!("it would not read back: {fault}"))?;
    if back.record != *record || back.id != id || back.via.as_ref() != via {
        return Err("it would read back as something else".to_owned());
    }
    line.pop();
    let sum = hash(line.as_bytes());
    line.push_str(SUM_KEY);
    line.push_str(&sum);
    line.push_str("\"}");
    Ok(line)
}

pub(super) fn decode(raw: &[u8]) -> Result<Line, Unreadable> {
    let Some((content, sum)) = split_sum(raw) else {
        let whole = serde_json::from_slice::<serde_json::Value>(raw).is_ok();
        return Err(if whole { Unreadable::Changed } else { Unreadable::Torn });
    };
    if hash(content) != sum {
        // Zeros stand where a block was never written.
        return Err(if raw.contains(&0) { Unreadable::Torn } else { Unreadable::Changed });
    }
    let line: Line = serde_json::from_slice(raw).map_err(|fault| Unreadable::Foreign(fault.to_string()))?;
    if let Some(at) = odd_time(&line.record) {
        return Err(Unreadable::Foreign(format!("the time {at}")));
    }
    strictly(content, &line).map_err(Unreadable::Foreign)?;
    Ok(line)
}

/// Would this event be written as it stands there? What is unknown, stands twice, or is written otherwise than events are,
/// would be lost or read two ways.
fn strictly(content: &[u8], line: &Line) -> Result<(), String> {
    let out = Out { prev: &line.prev, id: line.id, via: line.via.as_ref(), record: &line.record, end: line.end };
    let again = serde_json::to_vec(&out).map_err(|fault| fault.to_string())?;
    // The closing brace comes behind the sum.
    if again.strip_suffix(b"}") == Some(content) {
        return Ok(());
    }
    // The digits of a number may be those of another version, as long as it is the same number.
    let found = strict::parse(&[content, b"}"].concat())?;
    let again = strict::parse(&again)?;
    strict::difference(&found, &again).map_or(Ok(()), Err)
}

fn odd_time(record: &Record) -> Option<crate::moment::Moment> {
    let times = [Some(record.at), record.entered_at];
    times.into_iter().flatten().find(|at| !YEARS.contains(&at.date().year()))
}

/// The bytes that the sum covers, and the sum; `None` if the line has none at its end.
fn split_sum(raw: &[u8]) -> Option<(&[u8], &str)> {
    let (content, tail) = raw.split_at_checked(raw.len().checked_sub(SUM_TAIL)?)?;
    let tail = std::str::from_utf8(tail).ok()?;
    let sum = tail.strip_prefix(SUM_KEY)?.strip_suffix("\"}")?;
    Some((content, sum))
}

/// Could these bytes be the beginning of the line that follows `prev`? A line that was never written is all zeros.
pub(super) fn could_begin(raw: &[u8], prev: &str) -> bool {
    let wanted = format!("{{\"prev\":\"{prev}\"");
    let shared = wanted.len().min(raw.len());
    raw[..shared] == wanted.as_bytes()[..shared] || raw.first() == Some(&0)
}
