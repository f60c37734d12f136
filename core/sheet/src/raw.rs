//! Sheets as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node, Sources};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSheet {
    pub sheet: At<String>,
    pub title: At<String>,
    pub script: At<String>,
    pub sources: Sources,
    #[serde(default)]
    pub formula: Option<At<String>>,
    #[serde(default)]
    pub holds: Option<At<String>>,
    #[serde(default)]
    pub cautions: Vec<At<String>>,
    #[serde(default)]
    pub invented: bool,
    #[serde(default, rename = "override")]
    #[allow(dead_code)] // read when plugins are layered
    pub overrides: bool,
    #[serde(default)]
    pub inputs: IndexMap<At<String>, RawInput>,
    pub outputs: IndexMap<At<String>, RawOutput>,
}

/// What a value is: `is:` or `one_of:`, and the `fields:` of a record.
#[derive(Debug)]
pub struct RawShape {
    pub is: Option<At<String>>,
    pub one_of: Option<Vec<At<String>>>,
    pub fields: Option<IndexMap<At<String>, Node>>,
}

// The keys of a shape stand in each of these: nesting them would need `flatten`, which loses places.

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawInput {
    #[serde(default)]
    pub is: Option<At<String>>,
    #[serde(default)]
    pub one_of: Option<Vec<At<String>>>,
    #[serde(default)]
    pub fields: Option<IndexMap<At<String>, Node>>,
    #[serde(default)]
    pub optional: bool,
    #[serde(default)]
    pub default: Option<Node>,
    #[serde(default)]
    pub help: Option<At<String>>,
    #[serde(default)]
    pub at_least: Option<Node>,
    #[serde(default)]
    pub at_most: Option<Node>,
    #[serde(default)]
    pub valid: Option<Node>,
    #[serde(default)]
    pub outside: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawOutput {
    #[serde(default)]
    pub is: Option<At<String>>,
    #[serde(default)]
    pub one_of: Option<Vec<At<String>>>,
    #[serde(default)]
    pub fields: Option<IndexMap<At<String>, Node>>,
    #[serde(default)]
    pub optional: bool,
    #[serde(default)]
    pub unit: Option<At<String>>,
    #[serde(default)]
    pub help: Option<At<String>>,
}

/// One entry of a record, where more is to be said of it than what it is.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawPart {
    #[serde(default)]
    pub is: Option<At<String>>,
    #[serde(default)]
    pub one_of: Option<Vec<At<String>>>,
    #[serde(default)]
    pub optional: bool,
}
