//! One value of a script, seen by its kind.

use rhai::{Array, Dynamic, FnPtr, ImmutableString, Map};

use super::guest::{Absent, Answer, Day, Exact, Span, Stop, View, stop};
use super::run::Run;
use standpipe_diagnostic::Code;
use standpipe_quantity::Quantity;
use standpipe_quantity::series::Times;

/// Lists and records are not copied: whoever needs their content takes it from the value itself.
#[derive(Clone, Debug)]
pub(super) enum Operand {
    Number(f64),
    /// Only literals, lengths, rounding and counting loops give whole numbers; they count and index.
    Whole(i64),
    Quantity(Quantity),
    Truth(bool),
    Text(ImmutableString),
    Span(Span),
    Day(Day),
    Exact(Exact),
    List,
    Record,
    Function,
    Series,
    Times,
    Absent(Absent),
    Nothing,
    /// A counting range (`0..5`) and whatever else the language has.
    Other,
}

/// The largest whole number up to which every whole number is a binary floating-point number too.
pub(super) const LARGEST_WHOLE: i64 = 1 << 53;

impl Operand {
    pub fn of(value: &Dynamic) -> Self {
        if let Ok(number) = value.as_float() {
            return Self::Number(number);
        }
        if let Ok(whole) = value.as_int() {
            return Self::Whole(whole);
        }
        if let Some(quantity) = value.read_lock::<Quantity>() {
            return Self::Quantity(quantity.clone());
        }
        if let Ok(truth) = value.as_bool() {
            return Self::Truth(truth);
        }
        if let Some(text) = value.read_lock::<ImmutableString>() {
            return Self::Text(text.clone());
        }
        if let Ok(letter) = value.as_char() {
            return Self::Text(letter.to_string().into());
        }
        if let Some(span) = value.read_lock::<Span>() {
            return Self::Span(span.clone());
        }
        if let Some(day) = value.read_lock::<Day>() {
            return Self::Day(*day);
        }
        if let Some(exact) = value.read_lock::<Exact>() {
            return Self::Exact(*exact);
        }
        if let Some(absent) = value.read_lock::<Absent>() {
            return Self::Absent(absent.clone());
        }
        if value.is_unit() {
            return Self::Nothing;
        }
        if value.is::<Array>() {
            return Self::List;
        }
        if value.is::<Map>() {
            return Self::Record;
        }
        if value.is::<FnPtr>() {
            return Self::Function;
        }
        if value.is::<View>() {
            return Self::Series;
        }
        if value.is::<Times>() {
            return Self::Times;
        }
        Self::Other
    }

    /// What it is, in words for a message: `the text "12"`, `38.2 degC`.
    pub fn described(&self, run: &Run) -> String {
        match self {
            Self::Number(number) => format!("the number {number}"),
            Self::Whole(number) => format!("the number {number}"),
            Self::Quantity(quantity) => run.described(quantity),
            Self::Truth(truth) => format!("{truth}"),
            Self::Text(text) if text.chars().count() > 40 => "a text".into(),
            Self::Text(text) => format!("the text \"{text}\""),
            Self::Span(span) => format!("the range {}", run.units.show_range(&span.low, &span.high, &run.style)),
            Self::Day(day) => format!("the date {}", day.0),
            Self::Exact(exact) => format!("the decimal {}", exact.0),
            Self::List => "a list".into(),
            Self::Record => "a record".into(),
            Self::Function => "a function".into(),
            Self::Series => "a series of readings".into(),
            Self::Times => "times at which something was so".into(),
            Self::Absent(_) => "a value that is not known".into(),
            Self::Nothing => "nothing".into(),
            Self::Other => "a counting range".into(),
        }
    }

    /// As a quantity, if it is a number or a quantity.
    pub fn measured(&self) -> Option<Quantity> {
        match self {
            Self::Number(number) => Some(Quantity::number(*number)),
            Self::Whole(whole) => Some(Quantity::number(*whole as f64)),
            Self::Quantity(quantity) => Some(quantity.clone()),
            _ => None,
        }
    }
}

/// Dimensionless results collapse to plain numbers, so that `exp`, comparisons and counts need no second form.
pub(super) fn give(quantity: Quantity) -> Answer {
    if !quantity.si.is_finite() {
        return Err(not_finite("the result"));
    }
    Ok(collapsed(quantity))
}

pub(super) fn collapsed(quantity: Quantity) -> Dynamic {
    if quantity.dimension.is_none() && !quantity.point {
        Dynamic::from_float(quantity.si)
    } else {
        Dynamic::from(quantity)
    }
}

pub(super) fn give_number(number: f64) -> Answer {
    if number.is_finite() { Ok(Dynamic::from_float(number)) } else { Err(not_finite("the result")) }
}

pub(super) fn not_finite(what: &str) -> Stop {
    stop(Code::NonFiniteResult, format!("{what} is not a finite number"))
}
