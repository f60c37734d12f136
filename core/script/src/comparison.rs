//! Comparison. Unlike things are never compared: the interpreter would call `"12" < 5` and `() <= 5.0` false and go on.

use std::any::TypeId;
use std::cmp::Ordering;
use std::rc::Rc;

use rhai::{Array, Dynamic, Map};

use super::guest::{Answer, Span, Stop, stop, stop_with};
use super::interpreter::Interpreter;
use super::limits::NESTING;
use super::operand::Operand;
use super::operator::{faulty, unfit};
use super::run::Run;
use standpipe_diagnostic::Code;

type Test = fn(Ordering) -> bool;

const ORDERINGS: [(&str, Test); 4] =
    [("<", Ordering::is_lt), ("<=", Ordering::is_le), (">", Ordering::is_gt), (">=", Ordering::is_ge)];

pub(super) fn register(scripts: &mut Interpreter, run: &Rc<Run>) {
    let (any, float, whole) = (TypeId::of::<Dynamic>(), TypeId::of::<f64>(), TypeId::of::<i64>());
    let pairs = [[float, float], [float, whole], [whole, float], [whole, whole], [any, any]];
    for pair in pairs {
        for (name, test) in ORDERINGS {
            let shared = run.clone();
            scripts.register_raw_fn(name, pair, move |_, args| -> Answer {
                Ok(test(order(&shared, args[0], args[1])?).into())
            });
        }
        for name in ["==", "!="] {
            let shared = run.clone();
            scripts.register_raw_fn(name, pair, move |_, args| -> Answer {
                Ok((equal(&shared, args[0], args[1], 0)? == (name == "==")).into())
            });
        }
    }
    // `x in list` is a call of `contains`.
    let shared = run.clone();
    scripts.register_raw_fn("contains", [any, any], move |_, args| -> Answer {
        Ok(contains(&shared, args[0], args[1])?.into())
    });
}

/// Which of two is larger. Values within 1e-12 of each other are equal, as everywhere.
pub(super) fn order(run: &Run, left: &Dynamic, right: &Dynamic) -> Result<Ordering, Stop> {
    let (a, b) = (Operand::of(left), Operand::of(right));
    match (&a, &b) {
        (Operand::Whole(a), Operand::Whole(b)) => Ok(a.cmp(b)),
        (Operand::Day(a), Operand::Day(b)) => Ok(a.cmp(b)),
        (Operand::Exact(a), Operand::Exact(b)) => Ok(a.cmp(b)),
        (Operand::Text(_), Operand::Text(_)) => {
            Err(stop_with(Code::DimensionClash, "texts have no order", "compare texts with `==` or `!=`"))
        }
        _ => match (a.measured(), b.measured()) {
            (Some(a), Some(b)) => run.units.compare(&a, &b).map_err(faulty),
            _ => Err(unfit(run, &a, &b, "compare", "with")),
        },
    }
}

pub(super) fn equal(run: &Run, left: &Dynamic, right: &Dynamic, depth: usize) -> Result<bool, Stop> {
    if depth > NESTING {
        return Err(stop(Code::ScriptLimit, "lists or records nested too deeply to be compared"));
    }
    let (a, b) = (Operand::of(left), Operand::of(right));
    match (&a, &b) {
        (Operand::Truth(a), Operand::Truth(b)) => Ok(a == b),
        (Operand::Text(a), Operand::Text(b)) => Ok(a == b),
        (Operand::Span(a), Operand::Span(b)) => Ok(run.units.compare(&a.low, &b.low).map_err(faulty)?.is_eq()
            && run.units.compare(&a.high, &b.high).map_err(faulty)?.is_eq()),
        (Operand::List, Operand::List) => {
            let (Some(a), Some(b)) = (left.read_lock::<Array>(), right.read_lock::<Array>()) else {
                return Ok(false);
            };
            let mut same = a.len() == b.len();
            for (a, b) in a.iter().zip(b.iter()) {
                same &= equal(run, a, b, depth + 1)?;
            }
            Ok(same)
        }
        (Operand::Record, Operand::Record) => {
            let (Some(a), Some(b)) = (left.read_lock::<Map>(), right.read_lock::<Map>()) else {
                return Ok(false);
            };
            let mut same = a.len() == b.len();
            for (key, a) in a.iter() {
                match b.get(key) {
                    Some(b) => same &= equal(run, a, b, depth + 1)?,
                    None => same = false,
                }
            }
            Ok(same)
        }
        _ => Ok(order(run, left, right)?.is_eq()),
    }
}

/// In a list: something equal; in a record: a key; in a text: a part; in a range: between the ends or at one.
pub(super) fn contains(run: &Run, whole: &Dynamic, part: &Dynamic) -> Result<bool, Stop> {
    let (outer, inner) = (Operand::of(whole), Operand::of(part));
    match (&outer, &inner) {
        (Operand::List, _) => {
            let Some(list) = whole.read_lock::<Array>() else { return Ok(false) };
            let mut found = false;
            for item in list.iter() {
                found |= equal(run, item, part, 0)?;
            }
            Ok(found)
        }
        (Operand::Record, Operand::Text(key)) => {
            Ok(whole.read_lock::<Map>().is_some_and(|record| record.contains_key(key.as_str())))
        }
        (Operand::Text(outer), Operand::Text(inner)) => Ok(outer.contains(inner.as_str())),
        (Operand::Span(span), _) if inner.measured().is_some() => within(run, part, span),
        _ => Err(unfit(run, &inner, &outer, "look for", "in")),
    }
}

pub(super) fn within(run: &Run, value: &Dynamic, span: &Span) -> Result<bool, Stop> {
    let operand = Operand::of(value);
    let Some(quantity) = operand.measured() else {
        return Err(unfit(run, &operand, &Operand::Span(span.clone()), "compare", "with"));
    };
    run.units.within(&quantity, &span.low, &span.high).map_err(faulty)
}
