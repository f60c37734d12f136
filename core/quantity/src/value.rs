//! What a name can stand for: in a family's facts, in a job's readings, in the result of a script.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Quantity;

/// A settled value. Plain numbers are [`Value::Number`]; anything with a dimension is a [`Value::Quantity`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Value {
    /// Nobody entered it. Never a default, never a zero.
    Unknown,
    /// Yes or no.
    Truth(bool),
    /// A pure number or a count.
    Number(f64),
    /// A number with a unit.
    Quantity(Quantity),
    /// Both ends belong to it; low <= high.
    Range(Quantity, Quantity),
    /// Words.
    Text(String),
    /// Values of whatever kind, in order.
    List(Vec<Value>),
    /// Values by name.
    Record(IndexMap<String, Value>),
}

impl Value {
    /// Follows keys into nested records; `None` where there is no such key.
    pub fn at(&self, path: &[&str]) -> Option<&Value> {
        match path {
            [] => Some(self),
            [first, rest @ ..] => match self {
                Value::Record(fields) => fields.get(*first)?.at(rest),
                _ => None,
            },
        }
    }

    /// Whether nobody knows it.
    pub fn is_unknown(&self) -> bool {
        matches!(self, Value::Unknown)
    }
}
