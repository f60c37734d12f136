//! `hold`: something kept up for a time. A hold that was too short is recorded and asked again.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Ask, Kind, Miss, Next, Progress, Weighed, Written};
use crate::check::Checker;
use crate::expr::Expr;
use crate::field::{Field, FieldKind, compare};
use crate::template::Template;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_yaml::{At, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawHold {
    /// How long; a time of the family, or one with its unit.
    ///
    /// Example: `for: 8.min`
    #[serde(rename = "for")]
    time: Script,
    /// What happens meanwhile.
    ///
    /// Example: `text: It runs out`
    #[serde(default)]
    pub(super) text: Option<At<String>>,
}

#[derive(Debug)]
struct Hold {
    time: Expr,
    text: Option<Template>,
    field: Field,
}

impl Written for RawHold {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let text = self.text.as_ref().map(|text| checker.template(text));
        Some(Box::new(Hold { time: Expr::new(self.time), text, field: held_field(id) }))
    }
}

/// The name of a time that was held.
pub const HELD: &str = "held";

/// The field under which it is entered.
pub fn held_field(id: &At<String>) -> Field {
    Field::new(At::new(HELD.to_owned(), id.place.clone()), FieldKind::Held)
}

/// Whether what was held is long enough.
pub fn weigh_held(required: Option<&Value>, values: &IndexMap<String, Value>) -> Weighed {
    let long_enough = match (required, values.get("held")) {
        (Some(required), Some(held)) => compare(held, required).is_some_and(|order| order.is_ge()),
        _ => false,
    };
    if long_enough { Weighed::Done } else { Weighed::Again(Miss::NotHeld) }
}

/// The settled time, as a quantity.
pub fn required(progress: &Progress) -> Option<Quantity> {
    match progress.settled.get("for") {
        Some(Value::Quantity(time)) => Some(time.clone()),
        _ => None,
    }
}

impl Kind for Hold {
    fn word(&self) -> &'static str {
        "hold"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.done.contains("") {
            return Next::Done;
        }
        if !progress.settled.contains_key("for") {
            return Next::Settle { what: "for", expr: &self.time };
        }
        Next::Ask(Ask { text: self.text.as_ref(), hold: required(progress), ..Ask::fields([&self.field]) })
    }

    fn weigh(&self, progress: &Progress, values: &IndexMap<String, Value>) -> Weighed {
        weigh_held(progress.settled.get("for"), values)
    }

    fn expressions(&self) -> Vec<&Expr> {
        vec![&self.time]
    }

    fn texts(&self) -> Vec<&Template> {
        self.text.iter().collect()
    }

    fn summary(&self) -> String {
        format!("hold for {}", self.time.text())
    }
}
