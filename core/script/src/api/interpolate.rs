//! Values between the points of a table.

use rhai::Dynamic;

use super::{Arguments, Function};
use crate::guest::{Answer, Stop};
use crate::operand::{Operand, collapsed, give};
use crate::operator::faulty;
use standpipe_quantity::Quantity;

pub(super) const FUNCTIONS: &[Function] = &[Function {
    name: "interpolate",
    takes: &["value", "known", "results"],
    about: "The result at a value, on straight lines between known points; nothing is guessed beyond the first and last.",
    examples: &[
        ("interpolate(25.degC, [20.degC, 30.degC], [1.L, 3.L]) == 2.L", "true"),
        ("interpolate(30, [20, 30], [1, 3])", "3"),
        (
            "interpolate(31, [20, 30], [1, 3])",
            "error: `interpolate`: 31 lies outside the known values, which go from 20 to 30",
        ),
        ("interpolate(1, [2, 1], [1, 3])", "error: `interpolate`: the known values must rise, but 1 follows 2"),
    ],
    run: interpolate,
}];

fn interpolate(a: Arguments<'_, '_>) -> Answer {
    let at = a.quantity(0)?;
    let (known, results) = (quantities(&a, 1)?, quantities(&a, 2)?);
    if known.len() != results.len() || known.len() < 2 {
        let message =
            format!("{} known values and {} results; it takes as many, and at least 2", known.len(), results.len());
        return Err(a.fail(message));
    }
    let units = &a.run.units;
    for pair in known.windows(2) {
        if units.compare(&pair[0], &pair[1]).map_err(faulty)?.is_ge() {
            let (before, after) = (a.run.shown(&pair[0]), a.run.shown(&pair[1]));
            return Err(a.fail(format!("the known values must rise, but {after} follows {before}")));
        }
    }
    for index in 0..known.len() {
        let order = units.compare(&at, &known[index]).map_err(faulty)?;
        if order.is_eq() {
            return Ok(collapsed(results[index].clone()));
        }
        if order.is_lt() && index > 0 {
            let (from, to) = (&known[index - 1], &known[index]);
            let share = (at.si - from.si) / (to.si - from.si);
            let whole = units.sub(&results[index], &results[index - 1]).map_err(faulty)?;
            let part = units.mul(&whole, &Quantity::number(share)).map_err(faulty)?;
            return give(units.add(&results[index - 1], &part).map_err(faulty)?);
        }
        if order.is_lt() {
            break;
        }
    }
    let ends = (a.run.shown(&known[0]), a.run.shown(&known[known.len() - 1]));
    Err(a.fail(format!("{} lies outside the known values, which go from {} to {}", a.run.shown(&at), ends.0, ends.1)))
}

fn quantities(a: &Arguments<'_, '_>, index: usize) -> Result<Vec<Quantity>, Stop> {
    let list: Vec<Dynamic> = a.list(index)?;
    list.iter()
        .map(|value| {
            let operand = Operand::of(value);
            operand.measured().ok_or_else(|| a.refuse_value(&operand, "lists of numbers or quantities"))
        })
        .collect()
}
