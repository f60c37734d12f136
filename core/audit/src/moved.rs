//! Names whose values stand a little elsewhere: to see whether, and by how much, a verdict depends on them.

use std::borrow::Cow;

use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_script::Names;

/// What belongs to the plan and not to the work.
const GIVEN: &[&str] = &["spec", "job", "shop", "round"];

pub fn is_given(name: &str) -> bool {
    GIVEN.contains(&name)
}

/// Every value passes through `change` on its way, with its name; what the plan gives does not.
pub struct Moved<'a> {
    pub names: &'a dyn Names,
    pub change: &'a dyn Fn(&str, Value) -> Value,
}

impl Names for Moved<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        let value = self.names.latest(name)?;
        Some(if is_given(name) { value } else { Cow::Owned((self.change)(name, value.into_owned())) })
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.names.all(name).into_iter().map(|value| (self.change)(name, value)).collect()
    }
}

/// All numbers in a value, each made into another.
pub fn each_number(value: Value, change: &dyn Fn(f64) -> f64) -> Value {
    let quantity = |quantity: Quantity| Quantity { si: change(quantity.si), written: None, ..quantity };
    match value {
        Value::Number(number) => Value::Number(change(number)),
        Value::Quantity(it) => Value::Quantity(quantity(it)),
        Value::Range(low, high) => Value::Range(quantity(low), quantity(high)),
        Value::List(items) => Value::List(items.into_iter().map(|item| each_number(item, change)).collect()),
        Value::Record(fields) => {
            Value::Record(fields.into_iter().map(|(name, value)| (name, each_number(value, change))).collect())
        }
        other => other,
    }
}

/// The value at a path inside a record, or the value itself, made into another.
pub fn at_path(value: Value, path: &[String], change: &dyn Fn(f64) -> f64) -> Value {
    match (path.split_first(), value) {
        (None, value) => each_number(value, change),
        (Some((first, rest)), Value::Record(mut fields)) => {
            if let Some(inner) = fields.get_mut(first.as_str()) {
                let taken = std::mem::replace(inner, Value::Unknown);
                *inner = at_path(taken, rest, change);
            }
            Value::Record(fields)
        }
        (Some(_), value) => value,
    }
}
