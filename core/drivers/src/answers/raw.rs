//! An answers file as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAnswers {
    pub answers: At<String>,
    #[serde(default)]
    pub title: Option<String>,
    #[serde(default)]
    pub invented: bool,
    #[serde(default)]
    pub sources: Option<Node>,
    /// The job file they are for, relative to this file.
    #[serde(default, rename = "for")]
    pub job: Option<At<String>>,
    pub list: Vec<At<RawAnswer>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAnswer {
    #[serde(default)]
    pub step: Option<At<String>>,
    #[serde(default)]
    pub item: Option<At<String>>,
    pub at: At<String>,
    #[serde(default)]
    pub entered_at: Option<At<String>>,
    pub by: At<String>,
    #[serde(default)]
    pub enter: Option<Node>,
    #[serde(default)]
    pub log: Option<At<RawFromLog>>,
    #[serde(default)]
    pub instruments: IndexMap<String, At<String>>,
    #[serde(default)]
    pub witness: Option<At<String>>,
    #[serde(default)]
    pub evidence: Option<Node>,
    #[serde(default)]
    pub correct: Option<Node>,
    #[serde(default)]
    pub skip: Option<At<String>>,
    #[serde(default)]
    pub pause: Option<At<bool>>,
    #[serde(default)]
    pub resume: Option<At<bool>>,
    #[serde(default)]
    pub note: Option<At<String>>,
    #[serde(default)]
    pub attach: Option<At<String>>,
    #[serde(default)]
    pub call: Option<At<String>>,
    #[serde(default)]
    pub take_back: Option<At<bool>>,
    #[serde(default)]
    pub accept: Option<At<RawAccept>>,
    #[serde(default)]
    pub supply: Option<Node>,
    #[serde(default)]
    pub abandon: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAccept {
    pub because: At<String>,
}

/// A log that values are taken from, and how it is meant.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawFromLog {
    /// Relative to this file.
    pub file: At<String>,
    /// The instrument of the shop whose `log:` says how it writes.
    #[serde(default, rename = "as")]
    pub instrument: Option<At<String>>,
    /// Which of the log's columns a value is read from, where it is called otherwise.
    #[serde(default)]
    pub reads: IndexMap<At<String>, At<String>>,
    /// The time of day at which a log began that counts from its start.
    #[serde(default)]
    pub starts: Option<At<String>>,
    #[serde(default)]
    pub columns: IndexMap<At<String>, At<String>>,
    #[serde(default)]
    pub units: IndexMap<At<String>, At<String>>,
    #[serde(default)]
    pub decimal: Option<At<String>>,
    #[serde(default)]
    pub delimiter: Option<At<String>>,
    #[serde(default)]
    pub encoding: Option<At<String>>,
    #[serde(default)]
    pub time: Option<At<String>>,
}

/// What editors are told of a file of answers.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawAnswers)
}
