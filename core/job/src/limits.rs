//! Between which limits an entry has to lie, as the gate of its step will hold it: told before it is entered. Runs no script.

use super::names::JobNames;
use crate::plan::Plan;
use standpipe_diagnostic::columns::capital;
use standpipe_procedure::{Ask, Field, FieldKind, Gate};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_script::{Shape, Shapes};

/// A line for each quantity that is asked and that the gate leaves limits of; none where they hang on other conditions.
pub(crate) fn limits(plan: &Plan, gate: &Gate, ask: &Ask<'_>, names: &JobNames<'_>) -> Vec<String> {
    let conditions: Option<Vec<_>> = gate.must.parts().map(|part| part.compiled(&plan.scripts).ok()).collect();
    let Some(conditions) = conditions else { return Vec::new() };
    let asked = Asked { plan, names, fields: &ask.fields };
    let quantities = ask.fields.iter().filter(|field| matches!(field.kind, FieldKind::Quantity(_)));
    let alone = quantities.clone().count() == 1;
    quantities
        .filter_map(|field| {
            let path = [field.name.value.clone()];
            let Shape::Quantity(left) = plan.scripts.left_by(&conditions, &path, &asked) else { return None };
            let Shape::Quantity(any) = asked.of(&path) else { return None };
            let end = |si: f64| Quantity { si, written: None, ..left.sample.clone() };
            let narrower = |one: f64, other: f64| (one.is_finite() && one != other).then(|| end(one));
            let limit = match (narrower(left.low, any.low), narrower(left.high, any.high)) {
                (Some(low), Some(high)) => format!("within {}", plan.show(&Value::Range(low, high))),
                (Some(low), None) => format!("from {} upwards", plan.show(&Value::Quantity(low))),
                (None, Some(high)) => format!("up to {}", plan.show(&Value::Quantity(high))),
                (None, None) => return None,
            };
            let what = if alone { "It".to_owned() } else { capital(&field.name.replace('_', " ")) };
            let sure = gate.confidence.map_or("", |_| ", by more than its instrument may be off");
            Some(format!("{what} counts {limit}{sure}."))
        })
        .collect()
}

/// What is known so far; of what is asked now only what it is a quantity of.
struct Asked<'a> {
    plan: &'a Plan,
    names: &'a JobNames<'a>,
    fields: &'a [&'a Field],
}

impl Shapes for Asked<'_> {
    fn of(&self, path: &[String]) -> Shape {
        let asked = self.fields.iter().find(|field| path.first() == Some(&field.name.value));
        match asked.map(|field| &field.kind) {
            Some(FieldKind::Quantity(quantity)) if path.len() == 1 => Shape::of_family(quantity, &self.plan.units),
            Some(_) => Shape::Any,
            None => self.names.path(path).map_or(Shape::Any, |value| Shape::of_value(&value)),
        }
    }

    fn one_of_all(&self, _: &str) -> Shape {
        Shape::Any
    }
}
