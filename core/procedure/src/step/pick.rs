//! `pick`: one of a few options.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::entered::Entered;
use super::{Kind, Written};
use crate::check::Checker;
use crate::field::Field;
use crate::raw::RawOptions;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(transform = standpipe_yaml::told::script_names)]
pub struct RawPick(IndexMap<At<String>, RawOptions>);

impl Written for RawPick {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let mut fields = Vec::new();
        for (name, options) in self.0 {
            checker.name(&name);
            let kind = checker.choice(&name, options);
            fields.push(Field::new(name, kind));
        }
        if fields.is_empty() {
            checker.report(Diagnostic::error(Code::UnfitStep, &id.place, "`pick` without options"));
            return None;
        }
        let summary = fields.iter().map(Field::expected).collect::<Vec<_>>().join("; ");
        Some(Box::new(Entered { word: "pick", fields, summary }))
    }
}
