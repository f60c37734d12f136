//! The values of ours that scripts hold, besides numbers, text, lists and records.

use std::rc::Rc;
use std::sync::Arc;

use rhai::{Dynamic, EvalAltResult, Position};

use super::interpreter::Interpreter;
use standpipe_diagnostic::Code;
use standpipe_quantity::Quantity;
use standpipe_quantity::series::{Series, Times};

/// Both ends belong to it.
#[derive(Clone, Debug)]
pub(super) struct Span {
    pub low: Quantity,
    pub high: Quantity,
}

/// A day of the calendar. Scripts get days only from their inputs: there is no clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Day(pub jiff::civil::Date);

/// A decimal number. Only functions and operators of decimals touch it, so that no binary number gets in between.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Exact(pub rust_decimal::Decimal);

/// A value that nobody entered. It may be carried about; touching it ends the script.
#[derive(Clone, Debug)]
pub(super) struct Absent(pub Rc<str>);

/// Readings over time, and the part of them that is looked at. Copies share the readings.
#[derive(Clone, Debug)]
pub(super) struct View {
    pub series: Arc<Series>,
    pub window: (f64, f64),
}

impl View {
    pub fn of(series: Arc<Series>) -> Self {
        let window = series.span().unwrap_or((0.0, 0.0));
        Self { series, window }
    }
}

/// What our own functions say when they can't go on. It travels inside the interpreter's run-time error.
#[derive(Clone, Debug)]
pub(super) struct Complaint {
    pub code: Code,
    pub message: String,
    pub help: Option<String>,
}

pub(super) type Stop = Box<EvalAltResult>;
pub(super) type Answer = Result<Dynamic, Stop>;

pub(super) fn stop(code: Code, message: impl Into<String>) -> Stop {
    raise(Complaint { code, message: message.into(), help: None })
}

pub(super) fn stop_with(code: Code, message: impl Into<String>, help: impl Into<String>) -> Stop {
    raise(Complaint { code, message: message.into(), help: Some(help.into()) })
}

pub(super) fn raise(complaint: Complaint) -> Stop {
    EvalAltResult::ErrorRuntime(Dynamic::from(complaint), Position::NONE).into()
}

/// The names under which the interpreter's own messages would call these types; they reach the user only through
/// [`super::fault`].
pub(super) fn register(scripts: &mut Interpreter) {
    scripts.register_type_with_name::<Quantity>("quantity");
    scripts.register_type_with_name::<Span>("range");
    scripts.register_type_with_name::<Day>("date");
    scripts.register_type_with_name::<Exact>("decimal");
    scripts.register_type_with_name::<Absent>("unknown value");
    scripts.register_type_with_name::<View>("series");
    scripts.register_type_with_name::<Times>("times");
}
