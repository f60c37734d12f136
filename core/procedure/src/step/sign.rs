//! `sign`: somebody puts their name to the work.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Ask, Kind, Next, Progress, Written};
use crate::check::Checker;
use crate::field::{Field, FieldKind};
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSign {
    /// The role in which one signs.
    ///
    /// Example: `as: checker`
    #[serde(rename = "as")]
    #[schemars(with = "standpipe_yaml::told::Id")]
    role: At<String>,
    /// Somebody other than this: `doer`, or a name that was read.
    ///
    /// Example: `other_than: doer`
    #[serde(default)]
    other_than: Option<At<String>>,
}

#[derive(Debug)]
struct Sign {
    field: Field,
}

impl Written for RawSign {
    fn check(self, id: &At<String>, _checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let name = At::new(id.value.replace('-', "_"), id.place.clone());
        let mut field = Field::new(name, FieldKind::Signature(self.role.value));
        field.place = Some(self.role.place);
        field.other_than = self.other_than;
        Some(Box::new(Sign { field }))
    }
}

impl Kind for Sign {
    fn word(&self) -> &'static str {
        "sign"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.done.contains("") { Next::Done } else { Next::Ask(Ask::fields([&self.field])) }
    }

    fn gives(&self) -> Vec<&At<String>> {
        vec![&self.field.name]
    }

    fn fields(&self) -> &[Field] {
        std::slice::from_ref(&self.field)
    }

    fn summary(&self) -> String {
        match (&self.field.kind, &self.field.other_than) {
            (FieldKind::Signature(role), Some(_)) => format!("signed as {role}, by another person"),
            (FieldKind::Signature(role), None) => format!("signed as {role}"),
            _ => String::new(),
        }
    }
}
