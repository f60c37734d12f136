//! `include`: the steps of another procedure, as one block.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Children, Kind, Next, Progress, Written};
use crate::check::Checker;
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct RawInclude(pub(super) At<String>);

#[derive(Debug)]
struct Include(At<String>);

impl Written for RawInclude {
    fn check(self, _id: &At<String>, _checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        Some(Box::new(Include(self.0)))
    }
}

impl Kind for Include {
    fn word(&self) -> &'static str {
        "include"
    }

    fn next<'a>(&'a self, _progress: &Progress) -> Next<'a> {
        Next::Block
    }

    fn children(&self) -> Children<'_> {
        Children::Procedure(&self.0)
    }

    fn summary(&self) -> String {
        format!("the steps of {}", self.0.value)
    }
}
