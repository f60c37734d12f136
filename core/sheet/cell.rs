//! Values as cells of a table: bare numbers under a heading that names the unit, with all their digits.

use std::io::Write;

use super::{Output, Shape, Sheet};
use crate::quantity::{Quantity, Units};
use crate::value::Value;

/// A value as it stands under a heading of that unit; without one, numbers carry theirs.
pub fn cell(value: &Value, unit: Option<&str>, units: &Units) -> String {
    match value {
        Value::Unknown => String::new(),
        Value::Truth(truth) => truth.to_string(),
        Value::Number(number) => digits(*number),
        Value::Quantity(quantity) => one(quantity, unit, units),
        Value::Range(low, high) => format!("{}..{}", one(low, unit, units), one(high, unit, units)),
        Value::Text(text) => text.clone(),
        Value::List(items) => items.iter().map(|item| cell(item, unit, units)).collect::<Vec<_>>().join("; "),
        Value::Record(fields) => {
            let entries = fields.iter().map(|(name, value)| format!("{name}={}", cell(value, None, units)));
            entries.collect::<Vec<_>>().join(", ")
        }
    }
}

fn one(quantity: &Quantity, unit: Option<&str>, units: &Units) -> String {
    if let Some(value) = unit.and_then(|unit| units.convert(quantity, unit).ok()) {
        return digits(value);
    }
    let (value, unit) = units.plain(quantity);
    if unit.is_empty() { digits(value) } else { format!("{} {unit}", digits(value)) }
}

fn digits(value: f64) -> String {
    let mut to = Vec::new();
    write_digits(value, &mut to);
    String::from_utf8(to).unwrap_or_default()
}

/// The shortest decimal that means just this number.
pub(super) fn write_digits(value: f64, to: &mut Vec<u8>) {
    let size = value.abs();
    // Memory takes all it is given.
    let _ = if size != 0.0 && !(1e-6..1e16).contains(&size) { write!(to, "{value:e}") } else { write!(to, "{value}") };
}

impl Output {
    /// The heading of its column: `volume [L]`.
    pub fn heading(&self, name: &str) -> String {
        match (&self.unit, &self.shape) {
            (Some(unit), Shape::Quantity(_) | Shape::Range(_)) => format!("{name} [{unit}]"),
            _ => name.to_owned(),
        }
    }
}

impl Sheet {
    /// The heading of a column of inputs. One that has the name of an output says that it was given.
    pub fn given_heading(&self, heading: &super::Heading) -> String {
        let given = if self.outputs.contains_key(&heading.name) { "given " } else { "" };
        match &heading.unit {
            Some(unit) => format!("{given}{} [{unit}]", heading.name),
            None => format!("{given}{}", heading.name),
        }
    }
}
