//! Sheets as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSheet {
    pub sheet: At<String>,
    pub title: At<String>,
    pub script: At<String>,
    pub source: At<String>,
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
    #[allow(dead_code)] // `source` says where the formula is from
    pub sources: Vec<Node>,
    #[serde(default)]
    pub inputs: IndexMap<At<String>, RawInput>,
    pub outputs: IndexMap<At<String>, RawOutput>,
}

/// What a value is: exactly one of these.
#[derive(Debug, Default)]
pub struct RawShape {
    pub quantity: Option<At<String>>,
    pub range: Option<At<String>>,
    pub text: Option<Node>,
    pub date: Option<At<bool>>,
    pub truth: Option<At<bool>>,
    pub record: Option<IndexMap<At<String>, Node>>,
}

// The keys of a shape stand in each of these: nesting them would need `flatten`, which loses places.

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawInput {
    #[serde(default)]
    pub quantity: Option<At<String>>,
    #[serde(default)]
    pub range: Option<At<String>>,
    #[serde(default)]
    pub text: Option<Node>,
    #[serde(default)]
    pub date: Option<At<bool>>,
    #[serde(default)]
    pub truth: Option<At<bool>>,
    #[serde(default)]
    pub record: Option<IndexMap<At<String>, Node>>,
    #[serde(default)]
    pub list: bool,
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
    pub quantity: Option<At<String>>,
    #[serde(default)]
    pub range: Option<At<String>>,
    #[serde(default)]
    pub text: Option<Node>,
    #[serde(default)]
    pub date: Option<At<bool>>,
    #[serde(default)]
    pub truth: Option<At<bool>>,
    #[serde(default)]
    pub record: Option<IndexMap<At<String>, Node>>,
    #[serde(default)]
    pub list: bool,
    #[serde(default)]
    pub optional: bool,
    #[serde(default)]
    pub unit: Option<At<String>>,
    #[serde(default)]
    pub help: Option<At<String>>,
}

/// One entry of a record, where more is to be said of it than the name of its quantity.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawPart {
    #[serde(default)]
    pub quantity: Option<At<String>>,
    #[serde(default)]
    pub range: Option<At<String>>,
    #[serde(default)]
    pub text: Option<Node>,
    #[serde(default)]
    pub date: Option<At<bool>>,
    #[serde(default)]
    pub truth: Option<At<bool>>,
    #[serde(default)]
    pub optional: bool,
}

macro_rules! shape_of {
    ($raw:ty, |$self:ident| $record:expr) => {
        impl $raw {
            pub fn take_shape(&mut $self) -> RawShape {
                RawShape {
                    quantity: $self.quantity.take(),
                    range: $self.range.take(),
                    text: $self.text.take(),
                    date: $self.date.take(),
                    truth: $self.truth.take(),
                    record: $record,
                }
            }
        }
    };
}

shape_of!(RawInput, |self| self.record.take());
shape_of!(RawOutput, |self| self.record.take());
shape_of!(RawPart, |self| None);
