//! The record of a job: what was required, measured, computed and assumed, by whom and when.

mod build;
mod summary;
mod text;

use serde::Serialize;

pub use build::view;
pub use summary::summary;
pub use text::text;

use crate::job::{EvidenceRef, Verdict};
use crate::value::Value;

pub const SCHEMA: &str = "standpipe.record/1";

/// A record, ready to be shown: texts filled, values in the shop's units beside their exact ones.
#[derive(Clone, Debug, Serialize)]
pub struct RecordView {
    pub schema: &'static str,
    pub invented: bool,
    pub job: String,
    pub title: Option<String>,
    pub procedure: String,
    pub family: String,
    pub variant: Option<String>,
    pub shop: String,
    /// Facts of the job: path and value.
    pub facts: Vec<Fact>,
    pub status: Status,
    /// Two lines that can be read aloud.
    pub outcome: [String; 2],
    pub opened: Option<String>,
    pub closed: Option<String>,
    /// Everyone who entered something.
    pub doers: Vec<String>,
    /// What keeps it open, or was left open.
    pub open: Vec<String>,
    /// In the order in which it was done.
    pub work: Vec<Work>,
    /// What was required, and whether it was met.
    pub required: Vec<Required>,
    pub computed: Vec<Computed>,
    /// Taken for granted: supplied by somebody, or missing.
    pub assumed: Vec<Assumed>,
    pub corrections: Vec<Correction>,
    pub skipped: Vec<Reasoned>,
    pub accepted: Vec<Reasoned>,
    pub calls: Vec<Call>,
    pub pauses: Vec<Pause>,
    pub notes: Vec<Note>,
    pub evidence: Vec<EvidenceRef>,
    pub plan: PlanId,
    /// Hash over the whole journal, once it is closed.
    pub seal: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    Finished,
    Abandoned,
    Paused,
    Stopped,
    UnderWay,
}

#[derive(Clone, Debug, Serialize)]
pub struct Fact {
    pub path: String,
    pub value: Value,
    pub shown: String,
}

/// One entry.
#[derive(Clone, Debug, Serialize)]
pub struct Work {
    pub seq: u64,
    pub at: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entered_at: Option<String>,
    pub by: String,
    pub address: String,
    pub title: String,
    /// Items of an `each` that were done in one go.
    pub items: Vec<String>,
    pub values: Vec<Measured>,
    /// False for an attempt that does not count.
    pub counts: bool,
    pub remarks: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub witness: Option<String>,
    pub evidence: usize,
}

#[derive(Clone, Debug, Serialize)]
pub struct Measured {
    pub name: String,
    pub value: Value,
    pub typed: String,
    pub shown: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
    /// A quantity or a count, rather than words.
    pub number: bool,
}

#[derive(Clone, Debug, Serialize)]
pub struct Required {
    pub seq: u64,
    pub at: String,
    pub address: String,
    pub title: String,
    /// The condition as it is written.
    pub must: String,
    pub verdict: Verdict,
    /// The values that were looked at.
    pub found: Vec<Fact>,
    pub missing: Vec<String>,
    /// Where the condition stands.
    pub place: String,
    /// Asked again, or judged again after a correction.
    pub superseded: bool,
    pub accepted: bool,
    pub keep: bool,
}

#[derive(Clone, Debug, Serialize)]
pub struct Computed {
    pub seq: u64,
    pub address: String,
    pub title: String,
    pub name: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    pub inputs: Vec<Fact>,
    pub values: Vec<Fact>,
    pub missing: Vec<String>,
    pub warnings: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supersedes: Option<u64>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Assumed {
    pub what: String,
    pub shown: String,
    pub source: String,
    pub by: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct Correction {
    pub at: String,
    pub by: String,
    pub entry: u64,
    pub name: String,
    pub was: String,
    pub is: String,
    pub because: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct Reasoned {
    pub at: String,
    pub by: String,
    pub address: String,
    pub title: String,
    pub because: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct Call {
    pub at: String,
    pub by: String,
    pub procedure: String,
    pub title: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct Pause {
    pub from: Option<String>,
    pub to: Option<String>,
    pub by: String,
    pub resumed_by: Option<String>,
    pub tag: Vec<String>,
    /// The program ended without a pause.
    pub unannounced: bool,
}

#[derive(Clone, Debug, Serialize)]
pub struct Note {
    pub at: String,
    pub by: String,
    pub text: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct PlanId {
    pub hash: String,
    pub tool: String,
    pub interpreter: String,
}

/// Stands on every card and record.
pub const FIRST: &str = "The maker's service information, local rules and licensed practice come first.";
