//! By how much something is missed.
//!
//! A condition may be any expression, so nothing is taken apart: one value after the other is moved, up and down, until
//! the condition is met; how far that is, is the margin.

use schemars::JsonSchema;
use serde::Serialize;

use super::moved::{Moved, at_path, is_given};
use standpipe_job::judge::condition;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{State, Verdict};
use standpipe_procedure::Expr;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Margin {
    pub name: String,
    /// As they are shown in the shop's units.
    pub found: String,
    /// Where it would be met, all else being as it was.
    pub needed: String,
    pub off: String,
    /// In base units: needed less found.
    pub off_si: f64,
}

const HALVINGS: u32 = 60;

/// The smallest move of a single value that would have met the condition; `None` if no move of one value would.
pub fn margin(plan: &Plan, must: &Expr, names: &JobNames<'_>, state: &State) -> Option<Margin> {
    let mut best: Option<((bool, f64), Margin)> = None;
    for name in must.names(&plan.scripts) {
        let Some((first, rest)) = name.path.split_first() else { continue };
        if is_given(first) || name.all {
            continue;
        }
        let Some(found) = names.path(&name.path) else { continue };
        let Some(size) = size(&found) else { continue };
        let met = |by: f64| {
            let change = |moved: &str, value: Value| match moved == first {
                true => at_path(value, rest, &|number| number + by),
                false => value,
            };
            condition(plan, must, &Moved { names, change: &change }).verdict == Verdict::Met
        };
        let Some(by) = smallest(size, &met) else { continue };
        // What somebody read is told rather than what was computed from the data that changed.
        let computed = state.latest(first).is_none_or(|reading| reading.computed);
        let rank = (computed, by.abs() / size.max(f64::MIN_POSITIVE));
        if best.as_ref().is_none_or(|(least, _)| rank < *least) {
            best = Some((rank, shown(plan, &name.path.join("."), &found, by)));
        }
    }
    best.map(|(_, margin)| margin)
}

/// How far a value lies from a range, or below what it has to reach.
pub fn margin_to(plan: &Plan, name: &str, value: &Value, wanted: &Value) -> Option<Margin> {
    let Value::Quantity(found) = value else { return None };
    let off = match wanted {
        Value::Range(low, _) if found.si < low.si => low.si - found.si,
        Value::Range(_, high) => high.si - found.si,
        Value::Quantity(wanted) => wanted.si - found.si,
        _ => return None,
    };
    Some(shown(plan, name, value, off))
}

fn size(value: &Value) -> Option<f64> {
    match value {
        Value::Number(number) => Some(number.abs()),
        Value::Quantity(quantity) => Some(quantity.si.abs()),
        _ => None,
    }
}

/// The smallest move, to either side, that meets the condition; looked for from a millionth of the value to a hundred
/// times it.
fn smallest(size: f64, met: &dyn Fn(f64) -> bool) -> Option<f64> {
    let scale = if size > 0.0 { size } else { 1.0 };
    let (mut near, mut step) = (0.0, 1e-6 * scale);
    while step <= 100.0 * scale {
        for sign in [1.0, -1.0] {
            if !met(sign * step) {
                continue;
            }
            let (mut low, mut high) = (near, step);
            for _ in 0..HALVINGS {
                let middle = 0.5 * (low + high);
                if met(sign * middle) { high = middle } else { low = middle }
            }
            return Some(sign * high);
        }
        near = step;
        // Finer than doubling: a narrow range must not be stepped over.
        step *= 1.02;
    }
    None
}

fn shown(plan: &Plan, name: &str, found: &Value, by: f64) -> Margin {
    let (needed, off) = match found {
        Value::Quantity(found) => {
            let needed = Value::Quantity(Quantity { si: found.si + by, written: None, ..found.clone() });
            (plan.show_computed(&needed), plan.show_computed(&difference(plan, found, by)))
        }
        Value::Number(number) => {
            (plan.show_computed(&Value::Number(number + by)), plan.show_computed(&Value::Number(by.abs())))
        }
        _ => (String::new(), String::new()),
    };
    Margin { name: name.to_owned(), found: plan.show(found), needed, off, off_si: by }
}

/// The difference of two points is of another family than the points are.
fn difference(plan: &Plan, found: &Quantity, by: f64) -> Value {
    let family = found.of.as_deref().and_then(|name| plan.units.family(name));
    let of = match found.point {
        true => family.and_then(|family| family.difference),
        false => found.of,
    };
    Value::Quantity(Quantity { of, ..Quantity::new(by.abs(), found.dimension) })
}
