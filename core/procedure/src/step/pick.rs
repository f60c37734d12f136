//! `pick`: one of a few options.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::entered::Entered;
use super::{Kind, Written};
use crate::check::Checker;
use crate::field::{Field, FieldKind};
use crate::raw::RawOptions;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct RawPick(IndexMap<At<String>, RawOptions>);

impl Written for RawPick {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let mut fields = Vec::new();
        for (name, options) in self.0 {
            let options: Vec<(String, Option<String>)> = match options {
                RawOptions::Names(names) => names.into_iter().map(|name| (name.value, None)).collect(),
                RawOptions::Explained(all) => all.into_iter().map(|(name, text)| (name, Some(text.value))).collect(),
            };
            if options.len() < 2 {
                checker.report(
                    Diagnostic::error(Code::UnfitStep, &name.place, "a choice needs at least two options")
                        .help("use `do` for what is only confirmed"),
                );
            }
            checker.name(&name);
            fields.push(Field::new(name, FieldKind::Choice(options)));
        }
        if fields.is_empty() {
            checker.report(Diagnostic::error(Code::UnfitStep, &id.place, "`pick` without anything to pick"));
            return None;
        }
        let summary = fields.iter().map(Field::expected).collect::<Vec<_>>().join("; ");
        Some(Box::new(Entered { word: "pick", fields, summary }))
    }
}
