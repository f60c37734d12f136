//! Ranges of quantities. Both ends belong to them; their properties are `.low` and `.high`.

use rhai::Dynamic;

use super::{Arguments, Function};
use crate::comparison;
use crate::guest::{Answer, Span};
use crate::operator::faulty;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "range",
        takes: &["low", "high"],
        about: "The range between two values, both included.",
        examples: &[
            ("range(36.degC, 44.degC).low == 36.degC", "true"),
            ("range(5, 2)", "error: `range`: the low end 5 lies above the high end 2"),
        ],
        run: range,
    },
    Function {
        name: "within",
        takes: &["value", "range"],
        about: "Whether a value lies in a range, its ends included.",
        examples: &[
            ("within(95.degF, range(30.degC, 35.degC))", "true"),
            ("40.degC in range(30.degC, 35.degC)", "false"),
            ("within(1, range(30.degC, 35.degC))", "error: the number 1 and 30"),
        ],
        run: |a| Ok(comparison::within(a.run, a.value(0), &a.span(1)?)?.into()),
    },
    Function {
        name: "middle",
        takes: &["range"],
        about: "The value halfway between the ends of a range.",
        examples: &[("middle(range(30.degC, 40.degC)) == 35.degC", "true")],
        run: middle,
    },
];

fn range(a: Arguments<'_, '_>) -> Answer {
    let (low, high) = (a.quantity(0)?, a.quantity(1)?);
    if a.run.units.compare(&low, &high).map_err(faulty)?.is_gt() {
        let (low, high) = (a.run.shown(&low), a.run.shown(&high));
        return Err(a.fail(format!("the low end {low} lies above the high end {high}")));
    }
    Ok(Dynamic::from(Span { low, high }))
}

fn middle(a: Arguments<'_, '_>) -> Answer {
    let span = a.span(0)?;
    crate::operand::give(a.run.units.mean(&[span.low, span.high]).map_err(faulty)?)
}
