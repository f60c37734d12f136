//! A case as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCase {
    pub case: At<String>,
    #[serde(default)]
    #[allow(dead_code, reason = "for people who read the file")]
    pub title: Option<At<String>>,
    #[serde(default)]
    #[allow(dead_code, reason = "for people who read the file")]
    pub invented: bool,
    /// Where the expected values are from.
    pub source: At<String>,
    #[serde(default)]
    pub sheet: Option<At<String>>,
    #[serde(default)]
    pub procedure: Option<At<String>>,
    /// A file of the plugin that has a fault, with its text.
    #[serde(default)]
    pub check: Option<At<String>>,
    #[serde(default)]
    pub given: IndexMap<At<String>, Node>,
    #[serde(default)]
    pub job: Option<At<String>>,
    #[serde(default)]
    pub answers: Option<At<String>>,
    #[serde(default)]
    pub text: Option<At<String>>,
    pub expect: Node,
}

/// What is expected of a job.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawJobExpect {
    pub ends: At<String>,
    /// Rounds that a `repeat` took.
    #[serde(default)]
    pub rounds: IndexMap<At<String>, At<u32>>,
    /// The last verdict of a step's gate.
    #[serde(default)]
    pub verdicts: IndexMap<At<String>, At<String>>,
    /// The step that held the job in the end.
    #[serde(default)]
    pub held_at: Option<At<String>>,
    /// The last value of a name, or of a part of it.
    #[serde(default)]
    pub values: IndexMap<At<String>, Node>,
    #[serde(default)]
    pub variant: Option<At<String>>,
    #[serde(default)]
    pub tolerance: Option<At<String>>,
}

/// What editors are told of a case's file. What is expected is of several shapes and is left to the reader.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawCase)
}
