//! Where a function is zero.

use rhai::{Dynamic, FnPtr};

use super::{Arguments, Function};
use crate::quantity::{Quantity, close};
use crate::script::guest::{Answer, Stop};
use crate::script::operand::{Operand, collapsed};
use crate::script::operator::faulty;

pub(super) const FUNCTIONS: &[Function] = &[Function {
    name: "solve",
    takes: &["function", "low", "high"],
    about: "The value between low and high at which a function is zero; it must have different signs at the two ends.",
    examples: &[
        ("solve(|x| x * x - 2, 0, 2) == sqrt(2)", "true"),
        ("solve(|t| t - 30.degC, 0.degC, 100.degC) == 30.degC", "true"),
        ("solve(|x| x * x + 1, 0, 2)", "error: `solve`: the function has the same sign at both ends"),
    ],
    run: solve,
}];

const STEPS: usize = 200;

fn solve(a: Arguments<'_, '_>) -> Answer {
    let function = a.function(0)?;
    let (low, high) = (a.quantity(1)?, a.quantity(2)?);
    if a.run.units.compare(&low, &high).map_err(faulty)?.is_ge() {
        return Err(a.fail("the low end must lie below the high end"));
    }
    let at = |x: f64| -> Result<f64, Stop> {
        value(&a, &function, collapsed(Quantity { si: x, written: None, ..low.clone() }))
    };
    let root = bracketed(low.si, high.si, at, || a.fail("the function has the same sign at both ends"))?;
    Ok(collapsed(Quantity { si: root, written: None, ..low.clone() }))
}

fn value(a: &Arguments<'_, '_>, function: &FnPtr, x: Dynamic) -> Result<f64, Stop> {
    let result = a.apply(function, x)?;
    let operand = Operand::of(&result);
    match operand.measured() {
        // A point has no sign: 0 degC is not zero.
        Some(quantity) if !quantity.point => Ok(quantity.si),
        _ => Err(a.refuse_value(&operand, "a function that gives a number or a difference")),
    }
}

/// Halving with secant steps where they shrink the bracket (the Illinois variant of regula falsi; Dowell and Jarratt,
/// BIT 11 (1971), from memory). Never leaves the bracket, and ends when its ends are equal as all numbers are compared.
pub(in crate::script) fn bracketed<Stop>(
    low: f64,
    high: f64,
    mut at: impl FnMut(f64) -> Result<f64, Stop>,
    same_sign: impl FnOnce() -> Stop,
) -> Result<f64, Stop> {
    let (mut x0, mut x1) = (low, high);
    let (mut y0, mut y1) = (at(x0)?, at(x1)?);
    if y0 == 0.0 {
        return Ok(x0);
    }
    if y1 == 0.0 {
        return Ok(x1);
    }
    if (y0 < 0.0) == (y1 < 0.0) {
        return Err(same_sign());
    }
    let mut side = 0;
    for step in 0..STEPS {
        if close(x0, x1) || (x1 - x0).abs() <= 1e-14 * (high - low).abs() {
            break;
        }
        let secant = x1 - y1 * (x1 - x0) / (y1 - y0);
        // Every third step halves, so that a curved function can't slow it down for ever.
        let inside = secant > x0.min(x1) && secant < x0.max(x1);
        let x = if step % 3 == 2 || !inside { (x0 + x1) / 2.0 } else { secant };
        let y = at(x)?;
        if y == 0.0 {
            return Ok(x);
        }
        if (y < 0.0) == (y1 < 0.0) {
            (x1, y1) = (x, y);
            if side == 1 {
                y0 /= 2.0;
            }
            side = 1;
        } else {
            (x0, y0) = (x, y);
            if side == 2 {
                y1 /= 2.0;
            }
            side = 2;
        }
    }
    Ok((x0 + x1) / 2.0)
}
