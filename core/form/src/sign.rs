//! What a variant is recognised by.

use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, close};

/// The values of one sign that fit a variant; a range stands for all that lie in it.
#[derive(Clone, Debug)]
pub struct SignValue(pub Vec<Value>);

impl SignValue {
    /// Whether what was seen fits the variant.
    pub fn fits(&self, seen: &Value) -> bool {
        self.0.iter().any(|value| fits(value, seen))
    }

    /// Whether something could be seen that fits both.
    pub fn overlaps(&self, other: &SignValue) -> bool {
        self.0.iter().any(|mine| other.0.iter().any(|theirs| fits(mine, theirs)))
    }

    /// As a person would say it: `10 or 11`.
    pub fn words(&self) -> String {
        self.0.iter().map(words).collect::<Vec<_>>().join(" or ")
    }
}

fn fits(value: &Value, seen: &Value) -> bool {
    match (value, seen) {
        (Value::Text(a), Value::Text(b)) => a.trim().eq_ignore_ascii_case(b.trim()),
        (Value::Truth(a), Value::Truth(b)) => a == b,
        (Value::List(list), seen) => list.iter().any(|value| fits(value, seen)),
        (value, seen) => match (ends(value), ends(seen)) {
            (Some((low, high)), Some((from, to))) => {
                let below = |a: f64, b: f64| a < b || close(a, b);
                low.dimension == from.dimension && below(from.si, high.si) && below(low.si, to.si)
            }
            _ => false,
        },
    }
}

fn ends(value: &Value) -> Option<(Quantity, Quantity)> {
    match value {
        Value::Number(number) => Some((Quantity::number(*number), Quantity::number(*number))),
        Value::Quantity(quantity) => Some((quantity.clone(), quantity.clone())),
        Value::Range(low, high) => Some((low.clone(), high.clone())),
        _ => None,
    }
}

/// A value in a message, as it was written.
pub(super) fn words(value: &Value) -> String {
    let quantity = |quantity: &Quantity| match &quantity.written {
        Some(written) if written.unit.is_empty() => written.value.to_string(),
        Some(written) => format!("{} {}", written.value, written.unit),
        None => quantity.si.to_string(),
    };
    match value {
        Value::Unknown => "unknown".into(),
        Value::Truth(truth) => truth.to_string(),
        Value::Number(number) => number.to_string(),
        Value::Quantity(value) => quantity(value),
        Value::Range(low, high) => format!("{} to {}", quantity(low), quantity(high)),
        Value::Text(text) => text.clone(),
        Value::List(list) => list.iter().map(words).collect::<Vec<_>>().join(", "),
        Value::Record(_) => "a record".into(),
    }
}
