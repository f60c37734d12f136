//! `read`: values that a person reads or answers.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::entered::Entered;
use super::{Kind, Written};
use crate::check::Checker;
use crate::raw::RawField;
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(transform = standpipe_yaml::told::script_names)]
pub struct RawRead(pub IndexMap<At<String>, RawField>);

impl Written for RawRead {
    fn check(self, _id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let fields = checker.fields(self.0);
        let names: Vec<String> = fields.iter().map(|field| field.name.value.replace('_', " ")).collect();
        let summary = format!("read {}", names.join(", "));
        (!fields.is_empty()).then(|| Box::new(Entered { word: "read", fields, summary }) as Box<dyn Kind>)
    }
}
