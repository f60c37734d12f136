//! Values on their way into a script and out of it.

use std::rc::Rc;

use indexmap::IndexMap;
use rhai::{Array, Dynamic, Map};

use super::guest::{Absent, Span, Stop, stop};
use super::limits::NESTING;
use super::operand::{LARGEST_WHOLE, Operand, collapsed, not_finite};
use super::run::Run;
use standpipe_diagnostic::Code;
use standpipe_quantity::value::Value;

/// `name` is what to call the value, so that an unknown part of it can be named when it is touched.
pub(super) fn into_script(value: &Value, name: &str) -> Dynamic {
    match value {
        Value::Unknown => Dynamic::from(Absent(Rc::from(name))),
        Value::Truth(truth) => (*truth).into(),
        Value::Number(number) => Dynamic::from_float(*number),
        Value::Quantity(quantity) => collapsed(quantity.clone()),
        Value::Range(low, high) => Dynamic::from(Span { low: low.clone(), high: high.clone() }),
        Value::Text(text) => text.as_str().into(),
        Value::List(items) => {
            let list: Array =
                items.iter().enumerate().map(|(index, item)| into_script(item, &format!("{name}[{index}]"))).collect();
            Dynamic::from_array(list)
        }
        Value::Record(fields) => {
            let record: Map =
                fields.iter().map(|(key, field)| (key.into(), into_script(field, &format!("{name}.{key}")))).collect();
            Dynamic::from_map(record)
        }
    }
}

/// A value no script may hand out is an error that names it.
pub(super) fn from_script(run: &Run, value: &Dynamic, name: &str) -> Result<Value, Stop> {
    convert(run, value, name, 0)
}

fn convert(run: &Run, value: &Dynamic, name: &str, depth: usize) -> Result<Value, Stop> {
    if depth > NESTING {
        return Err(stop(Code::ScriptLimit, "the result is nested too deeply in lists or records"));
    }
    match Operand::of(value) {
        Operand::Absent(_) => Ok(Value::Unknown),
        Operand::Truth(truth) => Ok(Value::Truth(truth)),
        Operand::Number(number) if number.is_finite() => Ok(Value::Number(number)),
        Operand::Number(_) => Err(not_finite(name)),
        Operand::Whole(whole) if whole.unsigned_abs() <= LARGEST_WHOLE.unsigned_abs() => {
            Ok(Value::Number(whole as f64))
        }
        Operand::Whole(_) => {
            Err(stop(Code::NonFiniteResult, format!("{name} is a whole number too large to be exact")))
        }
        Operand::Quantity(quantity) if quantity.si.is_finite() => Ok(Value::Quantity(quantity)),
        Operand::Quantity(_) => Err(not_finite(name)),
        Operand::Span(span) => Ok(Value::Range(span.low, span.high)),
        Operand::Text(text) => Ok(Value::Text(text.to_string())),
        Operand::Day(day) => Ok(Value::Text(day.0.to_string())),
        Operand::List => {
            let list = value.read_lock::<Array>();
            let items = list.iter().flat_map(|list| list.iter()).enumerate();
            items
                .map(|(index, item)| convert(run, item, &format!("{name}[{index}]"), depth + 1))
                .collect::<Result<_, _>>()
                .map(Value::List)
        }
        Operand::Record => {
            let record = value.read_lock::<Map>();
            let fields = record.iter().flat_map(|record| record.iter());
            fields
                .map(|(key, field)| Ok((key.to_string(), convert(run, field, &format!("{name}.{key}"), depth + 1)?)))
                .collect::<Result<IndexMap<_, _>, Stop>>()
                .map(Value::Record)
        }
        Operand::Nothing => Err(stop(Code::FaultyScript, format!("{name} has no value"))),
        other => Err(stop(Code::FaultyScript, format!("{name} can't be {}", other.described(run)))),
    }
}
