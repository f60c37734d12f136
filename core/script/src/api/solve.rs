//! Where a function is zero.

use rhai::{Dynamic, FnPtr};

use super::{Arguments, Function};
use crate::guest::{Answer, Stop};
use crate::operand::{Operand, collapsed};
use crate::operator::faulty;
use standpipe_quantity::{Quantity, close};

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

pub(crate) fn bracketed<Stop>(
    low: f64,
    high: f64,
    mut at: impl FnMut(f64) -> Result<f64, Stop>,
    same_sign: impl FnOnce() -> Stop,
) -> Result<f64, Stop> {
    let mut bracket = Bracket::new((low, at(low)?), (high, at(high)?));
    if !bracket.has_zero() {
        return Err(same_sign());
    }
    loop {
        match bracket.next() {
            Next::Look(x) => bracket.take(x, at(x)?),
            Next::Zero(x) => return Ok(x),
        }
    }
}

/// Between which numbers a function is zero.
///
/// Halving with secant steps where they shrink the bracket (the Illinois variant of regula falsi; Dowell and Jarratt,
/// BIT 11 (1971), from memory). Never leaves the bracket, and ends when its ends are equal as all numbers are compared.
#[derive(Clone, Copy, Default)]
struct Bracket {
    x0: f64,
    x1: f64,
    y0: f64,
    y1: f64,
    /// Of the bracket that it began with.
    width: f64,
    /// Which end moved last.
    side: u8,
    step: usize,
    exact: Option<f64>,
}

/// Where to look next, or where the zero is.
enum Next {
    Look(f64),
    Zero(f64),
}

impl Bracket {
    /// From the two ends and what the function is there.
    fn new((x0, y0): (f64, f64), (x1, y1): (f64, f64)) -> Self {
        let exact = if y0 == 0.0 { Some(x0) } else { (y1 == 0.0).then_some(x1) };
        Self { x0, x1, y0, y1, width: (x1 - x0).abs(), side: 0, step: 0, exact }
    }

    fn has_zero(&self) -> bool {
        self.exact.is_some() || (self.y0 < 0.0) != (self.y1 < 0.0)
    }

    fn next(&self) -> Next {
        let Self { x0, x1, y0, y1, .. } = *self;
        if let Some(exact) = self.exact {
            return Next::Zero(exact);
        }
        if self.step == STEPS || close(x0, x1) || (x1 - x0).abs() <= 1e-14 * self.width {
            return Next::Zero((x0 + x1) / 2.0);
        }
        let secant = x1 - y1 * (x1 - x0) / (y1 - y0);
        // Every third step halves, so that a curved function can't slow it down for ever.
        let inside = secant > x0.min(x1) && secant < x0.max(x1);
        Next::Look(if self.step % 3 == 2 || !inside { (x0 + x1) / 2.0 } else { secant })
    }

    /// What the function is where [`Self::next`] said to look.
    fn take(&mut self, x: f64, y: f64) {
        self.step += 1;
        if y == 0.0 {
            self.exact = Some(x);
        } else if (y < 0.0) == (self.y1 < 0.0) {
            (self.x1, self.y1) = (x, y);
            if self.side == 1 {
                self.y0 /= 2.0;
            }
            self.side = 1;
        } else {
            (self.x0, self.y0) = (x, y);
            if self.side == 2 {
                self.y1 /= 2.0;
            }
            self.side = 2;
        }
    }
}
