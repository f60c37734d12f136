//! Properties: units of numbers (`30.degC`), ends of ranges, parts of dates.

use std::any::TypeId;
use std::rc::Rc;

use rhai::{Dynamic, ImmutableString};

use super::guest::{Answer, Stop, stop, stop_with};
use super::interpreter::Interpreter;
use super::operand::{Operand, collapsed, give};
use super::run::Run;
use standpipe_diagnostic::{Code, nearest};
use standpipe_quantity::Quantity;

/// What the interpreter calls its general property access; it takes any type, where its own way of registering one
/// takes a single type.
const ANY_PROPERTY: &str = "index$get$";

pub(super) fn register(scripts: &mut Interpreter, run: &Rc<Run>) {
    for (name, family, unit) in run.units.script_units() {
        let make = {
            let (of, dimension, point) = (family.name, family.dimension, family.point);
            let (factor, shift) = (unit.factor, unit.shift);
            move |value: f64| -> Answer {
                give(Quantity { si: (value + shift) * factor, dimension, point, of: Some(of), written: None })
            }
        };
        let getter = format!("get${name}");
        let whole = make;
        scripts.register_raw_fn(&getter, [TypeId::of::<f64>()], move |_, args| {
            make(args[0].as_float().unwrap_or(f64::NAN))
        });
        scripts.register_raw_fn(&getter, [TypeId::of::<i64>()], move |_, args| {
            whole(args[0].as_int().map_or(f64::NAN, |n| n as f64))
        });
    }
    let shared = run.clone();
    let types = [TypeId::of::<Dynamic>(), TypeId::of::<ImmutableString>()];
    scripts.register_raw_fn(ANY_PROPERTY, types, move |_, args| -> Answer {
        let name = args[1].read_lock::<ImmutableString>().map(|name| name.clone()).unwrap_or_default();
        property(&shared, args[0], &name)
    });
}

fn property(run: &Run, value: &Dynamic, name: &str) -> Answer {
    let operand = Operand::of(value);
    match (&operand, name) {
        (Operand::Absent(absent), _) => Err(run.touch(absent)),
        (Operand::Span(span), "low") => Ok(collapsed(span.low.clone())),
        (Operand::Span(span), "high") => Ok(collapsed(span.high.clone())),
        (Operand::Day(day), "year") => Ok(Dynamic::from_int(day.0.year().into())),
        (Operand::Day(day), "month") => Ok(Dynamic::from_int(day.0.month().into())),
        (Operand::Day(day), "day") => Ok(Dynamic::from_int(day.0.day().into())),
        (Operand::Number(_) | Operand::Whole(_), _) => Err(unknown_unit(run, name)),
        (Operand::Quantity(_), _) if run.units.script_units().any(|(unit, ..)| unit == name) => Err(stop_with(
            Code::DimensionClash,
            format!(
                "`.{name}` makes a quantity of a plain number, but here it stands after {}",
                operand.described(run)
            ),
            format!("write `.value(\"{name}\")` for the number of {name} in it"),
        )),
        (Operand::Span(_), _) => Err(no_property(run, &operand, name, &["low", "high"])),
        (Operand::Day(_), _) => Err(no_property(run, &operand, name, &["year", "month", "day"])),
        _ => Err(no_property(run, &operand, name, &[])),
    }
}

fn no_property(run: &Run, operand: &Operand, name: &str, known: &[&str]) -> Stop {
    let message = format!("{} has no property `{name}`", operand.described(run));
    match known {
        [] => stop(Code::UnknownName, message),
        _ => stop_with(Code::UnknownName, message, format!("its properties are {}", known.join(", "))),
    }
}

pub(super) fn unknown_unit(run: &Run, name: &str) -> Stop {
    let message = format!("there is no unit `{name}`");
    if let Some(unit) = run.units.script_name(name) {
        return stop_with(Code::UnknownName, message, format!("in expressions it is called `{unit}`"));
    }
    match nearest(name, run.units.script_units().map(|(unit, ..)| unit)) {
        Some(unit) => stop_with(Code::UnknownName, message, format!("did you mean `{unit}`?")),
        None => stop_with(
            Code::UnknownName,
            message,
            "`standpipe show quantities` lists the units and their names in scripts",
        ),
    }
}
