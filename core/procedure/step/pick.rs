//! `pick`: one of a few options.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Ask, Kind, Next, Progress, Written};
use crate::diagnostic::{Code, Diagnostic};
use crate::procedure::check::Checker;
use crate::procedure::field::{Field, FieldKind};
use crate::procedure::raw::RawOptions;
use crate::source::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct RawPick(IndexMap<At<String>, RawOptions>);

#[derive(Debug)]
struct Pick {
    fields: Vec<Field>,
}

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
                    Diagnostic::error(Code::P005, &name.place, "a choice needs at least two options")
                        .help("use `do` for what is only confirmed"),
                );
            }
            checker.name(&name);
            fields.push(Field::new(name, FieldKind::Choice(options)));
        }
        if fields.is_empty() {
            checker.report(Diagnostic::error(Code::P005, &id.place, "`pick` without anything to pick"));
            return None;
        }
        Some(Box::new(Pick { fields }))
    }
}

impl Kind for Pick {
    fn word(&self) -> &'static str {
        "pick"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.done.contains("") { Next::Done } else { Next::Ask(Ask::fields(&self.fields)) }
    }

    fn gives(&self) -> Vec<&At<String>> {
        self.fields.iter().map(|field| &field.name).collect()
    }

    fn fields(&self) -> &[Field] {
        &self.fields
    }

    fn summary(&self) -> String {
        self.fields.iter().map(|field| field.expected()).collect::<Vec<_>>().join("; ")
    }
}
