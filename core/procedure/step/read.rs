//! `read`: values that a person reads or answers.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Ask, Kind, Next, Progress, Written};
use crate::procedure::check::Checker;
use crate::procedure::field::Field;
use crate::procedure::raw::RawField;
use crate::source::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct RawRead(pub IndexMap<At<String>, RawField>);

#[derive(Debug)]
struct Read {
    fields: Vec<Field>,
}

impl Written for RawRead {
    fn check(self, _id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let fields = checker.fields(self.0);
        (!fields.is_empty()).then(|| Box::new(Read { fields }) as Box<dyn Kind>)
    }
}

impl Kind for Read {
    fn word(&self) -> &'static str {
        "read"
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
        let names: Vec<String> = self.fields.iter().map(|field| field.name.value.replace('_', " ")).collect();
        format!("read {}", names.join(", "))
    }
}
