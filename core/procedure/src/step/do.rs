//! `do`: something to be done and confirmed.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Ask, Kind, Next, Progress, Written};
use crate::check::Checker;
use crate::field::{Field, FieldKind};
use crate::template::Template;
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct RawDo(pub(super) At<String>);

#[derive(Debug)]
struct Do {
    text: Template,
    field: Field,
}

impl Written for RawDo {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let text = checker.template(&self.0);
        Some(Box::new(Do { text, field: Field::new(At::new("done".to_owned(), id.place.clone()), FieldKind::Done) }))
    }
}

impl Kind for Do {
    fn word(&self) -> &'static str {
        "do"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.done.contains("") {
            return Next::Done;
        }
        Next::Ask(Ask { text: Some(&self.text), ..Ask::fields([&self.field]) })
    }

    fn texts(&self) -> Vec<&Template> {
        vec![&self.text]
    }

    fn summary(&self) -> String {
        self.text.fill(|path| format!("{{{}}}", path.join(".")))
    }
}
