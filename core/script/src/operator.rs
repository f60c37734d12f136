//! Arithmetic. The interpreter's own operators are never used: it divides whole numbers as whole numbers, lets
//! infinities pass, and an operation it does not know on one of our types may be answered with `false`.
//!
//! Whole numbers are numbers: `7 / 2` is 3.5, and a sum or product beyond 2^53 becomes a floating-point number, so that
//! an expression has the same bits whether its numbers were written `2` or `2.0`.

use std::any::TypeId;
use std::rc::Rc;

use rhai::{Array, Dynamic, ImmutableString};

use super::api::too_large;
use super::guest::{Answer, Complaint, Exact, Stop, raise, stop, stop_with};
use super::interpreter::Interpreter;
use super::operand::{LARGEST_WHOLE, Operand, give, give_number, not_finite};
use super::run::Run;
use standpipe_diagnostic::Code;
use standpipe_quantity::{DimensionFault, Quantity};

type Binary = fn(&Run, &Dynamic, &Dynamic) -> Answer;

/// Operator, its assigning form, and what it does.
const BINARY: [(&str, &str, Binary); 6] = [
    ("+", "+=", add),
    ("-", "-=", subtract),
    ("*", "*=", multiply),
    ("/", "/=", divide),
    ("%", "%=", remainder),
    ("**", "**=", power),
];

pub(super) fn register(scripts: &mut Interpreter, run: &Rc<Run>) {
    let any = TypeId::of::<Dynamic>();
    for (name, assigning, operation) in BINARY {
        // Numbers first: found without trying the general form, which keeps them fast.
        for left in [TypeId::of::<f64>(), TypeId::of::<i64>(), any] {
            for right in [TypeId::of::<f64>(), TypeId::of::<i64>(), any] {
                if (left == any) != (right == any) {
                    continue;
                }
                let shared = run.clone();
                scripts.register_raw_fn(name, [left, right], move |_, args| operation(&shared, args[0], args[1]));
            }
        }
        let shared = run.clone();
        scripts.register_raw_fn(assigning, [any, any], move |_, args| {
            if name == "+" && extended(args) {
                return Ok(Dynamic::UNIT);
            }
            let result = operation(&shared, args[0], args[1])?;
            *args[0] = result;
            Ok(Dynamic::UNIT)
        });
    }
    let shared = run.clone();
    scripts.register_raw_fn("-", [any], move |_, args| negate(&shared, args[0]));
    let shared = run.clone();
    scripts.register_raw_fn("+", [any], move |_, args| positive(&shared, args[0]));
    let shared = run.clone();
    scripts.register_raw_fn("!", [any], move |_, args| not(&shared, args[0]));
    for name in ["..", "..="] {
        let shared = run.clone();
        scripts.register_raw_fn(name, [any, any], move |_, args| counting(&shared, args[0], args[1], name == "..="));
    }
}

/// `list += [entry]` is how a list grows; it must not be copied each time.
fn extended(args: &mut [&mut Dynamic]) -> bool {
    let [list, more] = args else { return false };
    let more = match more.read_lock::<Array>() {
        Some(more) => more.clone(),
        None => return false,
    };
    match list.write_lock::<Array>() {
        Some(mut list) => list.extend(more),
        None => return false,
    }
    true
}

pub(super) fn faulty(fault: DimensionFault) -> Stop {
    raise(Complaint { code: fault.code, message: fault.message, help: fault.help })
}

fn add(run: &Run, left: &Dynamic, right: &Dynamic) -> Answer {
    match (Operand::of(left), Operand::of(right)) {
        (Operand::Number(a), Operand::Number(b)) => give_number(a + b),
        (Operand::Whole(a), Operand::Whole(b)) => whole(a.checked_add(b), a as f64 + b as f64),
        (Operand::Exact(a), Operand::Exact(b)) => exact(a.0.checked_add(b.0)),
        (Operand::Text(a), Operand::Text(b)) => Ok(ImmutableString::from(format!("{a}{b}")).into()),
        (Operand::List, Operand::List) => {
            let mut all = left.read_lock::<Array>().map(|list| list.clone()).unwrap_or_default();
            if let Some(more) = right.read_lock::<Array>() {
                all.extend(more.iter().cloned());
            }
            Ok(Dynamic::from_array(all))
        }
        (a, b) => measured(run, a, b, "add", "and", |run, a, b| run.units.add(a, b)),
    }
}

fn subtract(run: &Run, left: &Dynamic, right: &Dynamic) -> Answer {
    match (Operand::of(left), Operand::of(right)) {
        (Operand::Number(a), Operand::Number(b)) => give_number(a - b),
        (Operand::Whole(a), Operand::Whole(b)) => whole(a.checked_sub(b), a as f64 - b as f64),
        (Operand::Exact(a), Operand::Exact(b)) => exact(a.0.checked_sub(b.0)),
        (a, b) => match (a.measured(), b.measured()) {
            (Some(a), Some(b)) => give(run.units.sub(&a, &b).map_err(faulty)?),
            _ => Err(unfit(run, &b, &a, "subtract", "from")),
        },
    }
}

fn multiply(run: &Run, left: &Dynamic, right: &Dynamic) -> Answer {
    match (Operand::of(left), Operand::of(right)) {
        (Operand::Number(a), Operand::Number(b)) => give_number(a * b),
        (Operand::Whole(a), Operand::Whole(b)) => whole(a.checked_mul(b), a as f64 * b as f64),
        (Operand::Exact(a), Operand::Exact(b)) => exact(a.0.checked_mul(b.0)),
        (a, b) => measured(run, a, b, "multiply", "by", |run, a, b| run.units.mul(a, b)),
    }
}

fn divide(run: &Run, left: &Dynamic, right: &Dynamic) -> Answer {
    let (a, b) = (Operand::of(left), Operand::of(right));
    if b.measured().is_some_and(|divisor| divisor.si == 0.0 && !divisor.point) && a.measured().is_some() {
        return Err(stop(Code::NonFiniteResult, format!("division of {} by zero", a.described(run))));
    }
    match (a, b) {
        (Operand::Number(a), Operand::Number(b)) => give_number(a / b),
        (Operand::Whole(a), Operand::Whole(b)) => give_number(a as f64 / b as f64),
        (a, b) => measured(run, a, b, "divide", "by", |run, a, b| run.units.div(a, b)),
    }
}

/// Only of numbers, with the sign of the first: what is left over when counting.
fn remainder(run: &Run, left: &Dynamic, right: &Dynamic) -> Answer {
    let numbers = (Operand::of(left), Operand::of(right));
    match numbers {
        (_, Operand::Number(0.0) | Operand::Whole(0)) => {
            Err(stop(Code::NonFiniteResult, "a remainder of a division by zero"))
        }
        (Operand::Whole(a), Operand::Whole(b)) => whole(a.checked_rem(b), a as f64 % b as f64),
        (Operand::Number(a), Operand::Number(b)) => give_number(a % b),
        (Operand::Whole(a), Operand::Number(b)) => give_number(a as f64 % b),
        (Operand::Number(a), Operand::Whole(b)) => give_number(a % b as f64),
        (a, b) => Err(unfit(run, &a, &b, "take the remainder of", "by")),
    }
}

pub(super) fn power(run: &Run, left: &Dynamic, right: &Dynamic) -> Answer {
    let (base, exponent) = (Operand::of(left), Operand::of(right));
    let raised = match &exponent {
        Operand::Number(number) => *number,
        Operand::Whole(whole) => *whole as f64,
        Operand::Absent(absent) => return Err(run.touch(absent)),
        _ => return Err(unfit(run, &base, &exponent, "raise", "to the power")),
    };
    match (&base, &exponent) {
        (Operand::Whole(number), Operand::Whole(by)) if *by >= 0 => {
            let exact = u32::try_from(*by).ok().and_then(|by| number.checked_pow(by));
            whole(exact, (*number as f64).powf(raised))
        }
        (Operand::Whole(number), _) => give_number((*number as f64).powf(raised)),
        (Operand::Number(number), _) => give_number(number.powf(raised)),
        (Operand::Quantity(quantity), _) => give(run.units.pow(quantity, raised).map_err(faulty)?),
        _ => Err(unfit(run, &base, &exponent, "raise", "to the power")),
    }
}

fn negate(run: &Run, value: &Dynamic) -> Answer {
    match Operand::of(value) {
        Operand::Number(number) => Ok((-number).into()),
        Operand::Whole(number) => whole(number.checked_neg(), -(number as f64)),
        Operand::Quantity(quantity) => give(run.units.neg(&quantity).map_err(faulty)?),
        Operand::Absent(absent) => Err(run.touch(&absent)),
        other => Err(stop(Code::DimensionClash, format!("a minus sign before {}", other.described(run)))),
    }
}

fn positive(run: &Run, value: &Dynamic) -> Answer {
    match Operand::of(value) {
        Operand::Number(_) | Operand::Whole(_) | Operand::Quantity(_) => Ok(value.clone()),
        Operand::Absent(absent) => Err(run.touch(&absent)),
        other => Err(stop(Code::DimensionClash, format!("a plus sign before {}", other.described(run)))),
    }
}

fn not(run: &Run, value: &Dynamic) -> Answer {
    match Operand::of(value) {
        Operand::Truth(truth) => Ok((!truth).into()),
        Operand::Absent(absent) => Err(run.touch(&absent)),
        other => Err(stop_with(
            Code::DimensionClash,
            format!("`!` turns true into false, but here it stands before {}", other.described(run)),
            "compare it with something first",
        )),
    }
}

/// `0..5`, for counting loops; a count that came in as a number will do if it is whole.
fn counting(run: &Run, from: &Dynamic, to: &Dynamic, inclusive: bool) -> Answer {
    let from = whole_number(run, from, "the start of a counting range")?;
    let to = whole_number(run, to, "the end of a counting range")?;
    Ok(if inclusive { Dynamic::from(from..=to) } else { Dynamic::from(from..to) })
}

pub(super) fn whole_number(run: &Run, value: &Dynamic, what: &str) -> Result<i64, Stop> {
    match Operand::of(value) {
        Operand::Whole(whole) => Ok(whole),
        Operand::Number(number) if number.fract() == 0.0 && number.abs() <= LARGEST_WHOLE as f64 => Ok(number as i64),
        Operand::Absent(absent) => Err(run.touch(&absent)),
        other => {
            Err(stop(Code::DimensionClash, format!("{what} is a whole number, but found {}", other.described(run))))
        }
    }
}

fn exact(result: Option<rust_decimal::Decimal>) -> Answer {
    Ok(Dynamic::from(Exact(result.ok_or_else(too_large)?)))
}

fn whole(exact: Option<i64>, rounded: f64) -> Answer {
    match exact {
        Some(exact) if exact.unsigned_abs() <= LARGEST_WHOLE.unsigned_abs() => Ok(Dynamic::from_int(exact)),
        _ if rounded.is_finite() => Ok(Dynamic::from_float(rounded)),
        _ => Err(not_finite("the result")),
    }
}

fn measured(
    run: &Run,
    left: Operand,
    right: Operand,
    verb: &str,
    between: &str,
    operation: impl Fn(&Run, &Quantity, &Quantity) -> Result<Quantity, DimensionFault>,
) -> Answer {
    match (left.measured(), right.measured()) {
        (Some(a), Some(b)) => give(operation(run, &a, &b).map_err(faulty)?),
        _ => Err(unfit(run, &left, &right, verb, between)),
    }
}

/// Two values that an operator can't take; an unknown one among them comes first.
pub(super) fn unfit(run: &Run, left: &Operand, right: &Operand, verb: &str, between: &str) -> Stop {
    for operand in [left, right] {
        if let Operand::Absent(absent) = operand {
            return run.touch(absent);
        }
    }
    let message = format!("can't {verb} {} {between} {}", left.described(run), right.described(run));
    match (left, right) {
        (Operand::Text(_), _) | (_, Operand::Text(_)) if verb == "add" => {
            stop_with(Code::DimensionClash, message, "put a value into a text as `${value}` between backquotes")
        }
        _ => stop(Code::DimensionClash, message),
    }
}
