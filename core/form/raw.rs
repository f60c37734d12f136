//! Forms as written.

use indexmap::IndexMap;
use serde::Deserialize;

use crate::source::At;
use crate::yaml::Node;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawForm {
    pub form: At<String>,
    #[serde(default)]
    pub title: Option<At<String>>,
    #[serde(default)]
    #[allow(dead_code)] // read when plugins are layered
    pub invented: bool,
    #[serde(default, rename = "override")]
    #[allow(dead_code)] // read when plugins are layered
    pub overrides: bool,
    #[serde(default)]
    pub records: IndexMap<At<String>, IndexMap<At<String>, At<String>>>,
    #[serde(default)]
    pub fields: IndexMap<At<String>, RawField>,
    #[serde(default)]
    pub recognised_by: IndexMap<At<String>, RawField>,
    #[serde(default)]
    pub job: IndexMap<At<String>, RawField>,
    #[serde(default)]
    #[allow(dead_code)] // a form states no values, so its sources are for its readers
    pub sources: Vec<Node>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawField {
    #[serde(default)]
    pub is: Option<At<String>>,
    #[serde(default)]
    pub one_of: Option<At<Vec<String>>>,
    #[serde(default)]
    pub required: bool,
    #[serde(default)]
    pub plausible: Option<At<String>>,
    #[serde(default)]
    pub ask: Option<At<String>>,
    #[serde(default)]
    pub help: Option<At<String>>,
}
