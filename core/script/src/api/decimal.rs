//! Decimal arithmetic, for money: sums and products of decimals are exact, and half a cent is half a cent.

use rhai::{Array, Dynamic};
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use rust_decimal::{Decimal, RoundingStrategy};

use super::{Arguments, Function};
use crate::guest::{Exact, Stop, stop};
use crate::operand::{Operand, give_number};
use crate::operator::faulty;
use standpipe_diagnostic::Code;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "decimal",
        takes: &["value", "unit?"],
        about: "The number that was written, as a decimal: `+`, `-` and `*` of decimals are exact, up to 28 digits. Of a quantity in a unit.",
        examples: &[
            ("decimal(0.1) + decimal(0.2) == decimal(0.3)", "true"),
            ("text(decimal(90.min, \"h\") * decimal(80.35))", "120.525"),
            ("decimal(1.L)", "error: `decimal` wants a plain number, or a quantity and a unit"),
            ("decimal(1) + 1", "error: can't add the decimal 1 and the number 1"),
        ],
        run: |a| {
            let number = match (a.count(), a.operand(0)) {
                (_, Operand::Exact(exact)) => return Ok(Dynamic::from(exact)),
                (1, Operand::Quantity(_)) => return Err(a.refuse(0, "a plain number, or a quantity and a unit")),
                (1, _) => a.number(0)?,
                _ => a.run.units.convert(&a.quantity(0)?, &a.text(1)?).map_err(faulty)?,
            };
            Ok(Dynamic::from(Exact(written(number).ok_or_else(too_large)?)))
        },
    },
    Function {
        name: "decimal_round",
        takes: &["decimal", "digits"],
        about: "A decimal rounded to that many digits after the point, halves away from zero as shops round.",
        examples: &[
            ("text(decimal_round(decimal(120.525), 2))", "120.53"),
            ("text(decimal_round(decimal(-2.345), 2))", "-2.35"),
            ("text(decimal_round(decimal(30), 2))", "30.00"),
            ("decimal_round(1.5, 0)", "error: `decimal_round` wants a decimal"),
        ],
        run: |a| {
            let digits = a.whole(1, "the number of digits")?;
            let digits = u32::try_from(digits).ok().filter(|digits| *digits <= 15);
            let digits = digits.ok_or_else(|| a.fail("digits go from 0 to 15"))?;
            Ok(Dynamic::from(Exact(rounded(exact(&a, 0)?, digits))))
        },
    },
    Function {
        name: "decimal_sum",
        takes: &["list"],
        about: "The exact sum of a list of decimals; of an empty one it is 0.",
        examples: &[("text(decimal_sum([decimal(0.1), decimal(0.2)]))", "0.3"), ("text(decimal_sum([]))", "0")],
        run: |a| {
            let list: Array = a.list(0)?;
            let mut sum = Decimal::ZERO;
            for one in &list {
                let Operand::Exact(Exact(one)) = Operand::of(one) else {
                    return Err(a.refuse_value(&Operand::of(one), "a list of decimals"));
                };
                sum = sum.checked_add(one).ok_or_else(too_large)?;
            }
            Ok(Dynamic::from(Exact(sum)))
        },
    },
    Function {
        name: "number",
        takes: &["decimal"],
        about: "The plain number nearest to a decimal, for a result: `number(total) * 1.money`.",
        examples: &[("number(decimal(0.1) + decimal(0.2))", "0.3"), ("number(1)", "error: `number` wants a decimal")],
        run: |a| give_number(exact(&a, 0)?.to_f64().ok_or_else(too_large)?),
    },
];

fn exact(a: &Arguments<'_, '_>, index: usize) -> Result<Decimal, Stop> {
    match a.operand(index) {
        Operand::Exact(Exact(decimal)) => Ok(decimal),
        other => Err(a.refuse_value(&other, "a decimal")),
    }
}

/// What was written, up to 15 significant digits: so many survive the way through a binary number and a change of unit,
/// and what lies behind them was made by that way.
fn written(number: f64) -> Option<Decimal> {
    let decimal = Decimal::from_f64(number)?;
    decimal.round_sf_with_strategy(15, RoundingStrategy::MidpointAwayFromZero).map(|decimal| decimal.normalize())
}

fn rounded(decimal: Decimal, digits: u32) -> Decimal {
    let mut rounded = decimal.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero);
    // Zeros behind the point too: 30.00 of money.
    rounded.rescale(digits);
    rounded
}

pub(crate) fn too_large() -> Stop {
    stop(Code::NonFiniteResult, "a decimal with more digits than can be kept")
}
