//! What the fields of forms, steps and sheets say of their values.

use indexmap::IndexMap;

use standpipe_form::{Form, Kind};
use standpipe_procedure::{Field, FieldKind};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_script::{Measured, Shape};
use standpipe_sheet::{self as sheet, Sheet};

/// `None` for what gives no value to expressions.
pub fn of_field(field: &Field, units: &Units, form: Option<&Form>) -> Option<Shape> {
    let end = |limit: &Option<Value>| match limit {
        Some(Value::Quantity(quantity)) => Some(quantity.si),
        Some(Value::Number(number)) => Some(*number),
        _ => None,
    };
    let limited = |shape: Shape| match shape {
        Shape::Quantity(measured) => Shape::Quantity(measured.between(end(&field.at_least), end(&field.at_most))),
        other => other,
    };
    Some(match &field.kind {
        FieldKind::Done | FieldKind::Held => return None,
        FieldKind::Quantity(quantity) => limited(Shape::of_family(quantity, units)),
        FieldKind::Count => limited(count()),
        FieldKind::Text | FieldKind::Date | FieldKind::Person | FieldKind::Signature(_) => Shape::Text(None),
        FieldKind::Choice(options) => Shape::Text(Some(options.iter().map(|(name, _)| name.clone()).collect())),
        FieldKind::Sign(sign) => match (form, form.and_then(|form| form.signs.get(sign))) {
            (Some(form), Some(sign)) => of_kind(&sign.kind, form, units),
            _ => Shape::Any,
        },
    })
}

fn count() -> Shape {
    Shape::Quantity(Measured::any(Quantity::number(1.0)).between(Some(0.0), None))
}

pub fn of_kind(kind: &Kind, form: &Form, units: &Units) -> Shape {
    match kind {
        Kind::Text | Kind::Date | Kind::Person | Kind::Table => Shape::Text(None),
        Kind::Truth => Shape::Truth(None),
        Kind::Count => count(),
        Kind::Number => Shape::number(),
        Kind::Quantity(quantity) => Shape::of_family(quantity, units),
        Kind::Range(quantity) => Shape::range_of_family(quantity, units),
        Kind::List(inner) => Shape::List(Box::new(of_kind(inner, form, units))),
        Kind::OneOf(options) => Shape::Text(Some(options.clone())),
        Kind::Record(name) => match form.records.get(name) {
            Some(fields) => {
                Shape::Record(fields.values().map(|one| (one.path.clone(), of_kind(&one.kind, form, units))).collect())
            }
            None => Shape::Any,
        },
    }
}

pub fn of_sheet(shape: &sheet::Shape, units: &Units) -> Shape {
    match shape {
        sheet::Shape::Quantity(of) => Shape::of_family(of, units),
        sheet::Shape::Range(of) => Shape::range_of_family(of, units),
        sheet::Shape::Text(choices) if choices.is_empty() => Shape::Text(None),
        sheet::Shape::Text(choices) => Shape::Text(Some(choices.clone())),
        sheet::Shape::Date => Shape::Text(None),
        sheet::Shape::Truth => Shape::Truth(None),
        sheet::Shape::Record(parts) => {
            Shape::Record(parts.iter().map(|(name, part)| (name.clone(), of_sheet(&part.shape, units))).collect())
        }
    }
}

/// What a sheet gives: a record of its outputs.
pub fn of_outputs(sheet: &Sheet, units: &Units) -> Shape {
    let outputs: IndexMap<String, Shape> = sheet
        .outputs
        .iter()
        .map(|(name, output)| {
            let one = of_sheet(&output.shape, units);
            (name.clone(), if output.list { Shape::List(Box::new(one)) } else { one })
        })
        .collect();
    Shape::Record(outputs)
}
