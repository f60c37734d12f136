//! Numbers. Angles are numbers too, in radians: `sin(30.deg)`.

use rhai::Dynamic;

use super::{Arguments, Function};
use crate::comparison::order;
use crate::guest::{Answer, Stop, stop};
use crate::operand::{LARGEST_WHOLE, Operand, give, give_number};
use crate::operator::{faulty, power};
use standpipe_diagnostic::Code;
use standpipe_quantity::Quantity;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "abs",
        takes: &["value"],
        about: "The value without its sign; of a number or a quantity.",
        examples: &[
            ("abs(-2.5)", "2.5"),
            ("abs(-3.mL) == 3.mL", "true"),
            ("abs(20.degC)", "error: `abs` wants a number or a difference, found"),
        ],
        run: abs,
    },
    Function {
        name: "sqrt",
        takes: &["value"],
        about: "The square root; of a quantity where its dimension has one.",
        examples: &[
            ("sqrt(6.25)", "2.5"),
            ("sqrt(4.mm2) == 2.mm", "true"),
            ("sqrt(-1)", "error: the square root of a negative value"),
        ],
        run: sqrt,
    },
    Function {
        name: "pow",
        takes: &["value", "exponent"],
        about: "A power, the same as `**`.",
        examples: &[("pow(2, -1)", "0.5"), ("pow(-2, 2)", "4"), ("pow(2.mm, 3) == 8.mm3", "true")],
        run: |a| power(a.run, a.value(0), a.value(1)),
    },
    Function {
        name: "exp",
        takes: &["number"],
        about: "e to the power of the number.",
        examples: &[
            ("round(exp(1), 6) == 2.718282", "true"),
            ("exp(1000)", "error: the result is not a finite number"),
        ],
        run: |a| give_number(a.number(0)?.exp()),
    },
    Function {
        name: "ln",
        takes: &["number"],
        about: "The natural logarithm.",
        examples: &[("ln(exp(2))", "2"), ("ln(0)", "error: the logarithm of 0, which is not above zero")],
        run: |a| logarithm(&a, f64::ln),
    },
    Function {
        name: "log10",
        takes: &["number"],
        about: "The logarithm to base 10.",
        examples: &[("log10(1000)", "3"), ("log10(-1)", "error: the logarithm of -1, which is not above zero")],
        run: |a| logarithm(&a, f64::log10),
    },
    Function {
        name: "sin",
        takes: &["angle"],
        about: "The sine of an angle.",
        examples: &[("sin(30.deg)", "0.5")],
        run: |a| give_number(a.number(0)?.sin()),
    },
    Function {
        name: "cos",
        takes: &["angle"],
        about: "The cosine of an angle.",
        examples: &[("cos(60.deg)", "0.5")],
        run: |a| give_number(a.number(0)?.cos()),
    },
    Function {
        name: "tan",
        takes: &["angle"],
        about: "The tangent of an angle.",
        examples: &[("tan(45.deg)", "1")],
        run: |a| give_number(a.number(0)?.tan()),
    },
    Function {
        name: "atan",
        takes: &["number"],
        about: "The angle between -90 and 90 degrees that has this tangent, in radians.",
        examples: &[("atan(1) / 1.deg", "45")],
        run: |a| give_number(a.number(0)?.atan()),
    },
    Function {
        name: "pi",
        takes: &[],
        about: "The circumference of a circle over its diameter.",
        examples: &[("round(pi(), 6) == 3.141593", "true")],
        run: |_| give_number(std::f64::consts::PI),
    },
    Function {
        name: "floor",
        takes: &["number"],
        about: "The next whole number below.",
        examples: &[("floor(2.7)", "2"), ("floor(-2.5)", "-3"), ("[5, 6, 7][floor(7 / 4)]", "6")],
        run: |a| rounded(&a, f64::floor),
    },
    Function {
        name: "ceil",
        takes: &["number"],
        about: "The next whole number above.",
        examples: &[("ceil(2.1)", "3"), ("ceil(-2.5)", "-2")],
        run: |a| rounded(&a, f64::ceil),
    },
    Function {
        name: "round",
        takes: &["number", "digits?"],
        about: "The nearest whole number, halves away from zero; with digits, rounded to that many after the point.",
        examples: &[("round(2.5)", "3"), ("round(-2.5)", "-3"), ("round(2.345, 1)", "2.3")],
        run: round,
    },
    Function {
        name: "whole",
        takes: &["number"],
        about: "A number that is already whole, as a whole number for counting and indexing.",
        examples: &[
            ("[5, 6][whole(3.0 - 2.0)]", "6"),
            ("whole(2.5)", "error: the value of `whole` is a whole number, but found the number 2.5"),
        ],
        run: |a| Ok(Dynamic::from_int(a.whole(0, "the value of `whole`")?)),
    },
    Function {
        name: "min",
        takes: &["first", "second?", "third?", "fourth?"],
        about: "The smallest of its values, or of one list.",
        examples: &[
            ("min(3, 2.5)", "2.5"),
            ("min([30.degC, 20.degC]) == 20.degC", "true"),
            ("min([])", "error: `min`: the list is empty"),
        ],
        run: |a| extreme(&a, std::cmp::Ordering::is_lt),
    },
    Function {
        name: "max",
        takes: &["first", "second?", "third?", "fourth?"],
        about: "The largest of its values, or of one list.",
        examples: &[("max(3, 2.5)", "3"), ("max(1.L, 900.mL) == 1.L", "true"), ("max(1, 2.L)", "error: 2")],
        run: |a| extreme(&a, std::cmp::Ordering::is_gt),
    },
];

fn abs(a: Arguments<'_, '_>) -> Answer {
    match a.operand(0) {
        Operand::Whole(number) => match number.checked_abs() {
            Some(number) => Ok(Dynamic::from_int(number)),
            None => Err(stop(Code::NonFiniteResult, "the result is too large for a whole number")),
        },
        Operand::Number(number) => give_number(number.abs()),
        Operand::Quantity(quantity) if !quantity.point && quantity.si >= 0.0 => Ok(a.value(0).clone()),
        Operand::Quantity(quantity) if !quantity.point => {
            give(Quantity { si: -quantity.si, written: None, ..quantity })
        }
        other => Err(a.refuse_value(&other, "a number or a difference")),
    }
}

fn sqrt(a: Arguments<'_, '_>) -> Answer {
    let quantity = a.quantity(0)?;
    if quantity.si < 0.0 {
        return Err(stop(Code::NonFiniteResult, "the square root of a negative value"));
    }
    give(a.run.units.pow(&quantity, 0.5).map_err(faulty)?)
}

fn logarithm(a: &Arguments<'_, '_>, of: fn(f64) -> f64) -> Answer {
    let number = a.number(0)?;
    if number <= 0.0 {
        return Err(stop(Code::NonFiniteResult, format!("the logarithm of {number}, which is not above zero")));
    }
    give_number(of(number))
}

fn rounded(a: &Arguments<'_, '_>, how: fn(f64) -> f64) -> Answer {
    let number = how(a.number(0)?);
    if number.abs() > LARGEST_WHOLE as f64 {
        return Err(a.fail("the number is too large to be counted with"));
    }
    Ok(Dynamic::from_int(number as i64))
}

fn round(a: Arguments<'_, '_>) -> Answer {
    if a.count() == 1 {
        return rounded(&a, f64::round);
    }
    let (number, digits) = (a.number(0)?, a.whole(1, "the number of digits")?);
    if !(0..=15).contains(&digits) {
        return Err(a.fail("digits go from 0 to 15"));
    }
    let scale = 10f64.powi(digits as i32);
    give_number((number * scale).round() / scale)
}

fn extreme(a: &Arguments<'_, '_>, better: fn(std::cmp::Ordering) -> bool) -> Answer {
    let values: Vec<Dynamic> = match (a.count(), a.operand(0)) {
        (1, Operand::List) => a.list(0)?,
        (1, other) => return Err(a.refuse_value(&other, "several values, or a list")),
        _ => (0..a.count()).map(|index| a.value(index).clone()).collect(),
    };
    best(a, &values, better)
}

fn best(a: &Arguments<'_, '_>, values: &[Dynamic], better: fn(std::cmp::Ordering) -> bool) -> Result<Dynamic, Stop> {
    let Some((first, rest)) = values.split_first() else {
        return Err(a.fail("the list is empty"));
    };
    let mut best = first;
    // The first is compared with itself, so that a list of one text is refused like any other.
    order(a.run, first, first)?;
    for value in rest {
        if better(order(a.run, value, best)?) {
            best = value;
        }
    }
    Ok(best.clone())
}
