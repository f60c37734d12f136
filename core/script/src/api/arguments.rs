//! The values a function was called with.

use rhai::{Array, Dynamic, FnPtr, ImmutableString, Map, NativeCallContext};

use crate::guest::{Answer, Day, Span, Stop, stop};
use crate::operand::Operand;
use crate::operator::whole_number;
use crate::run::Run;
use standpipe_diagnostic::Code;
use standpipe_quantity::Quantity;

pub(crate) struct Arguments<'a, 'v> {
    pub run: &'a Run,
    pub context: &'a NativeCallContext<'a>,
    pub name: &'static str,
    pub values: &'a mut [&'v mut Dynamic],
}

impl Arguments<'_, '_> {
    pub fn count(&self) -> usize {
        self.values.len()
    }

    pub fn value(&self, index: usize) -> &Dynamic {
        self.values[index]
    }

    pub fn operand(&self, index: usize) -> Operand {
        Operand::of(self.values[index])
    }

    /// Says what was wanted and what came.
    pub fn refuse(&self, index: usize, wanted: &str) -> Stop {
        self.refuse_value(&self.operand(index), wanted)
    }

    pub fn refuse_value(&self, found: &Operand, wanted: &str) -> Stop {
        match found {
            Operand::Absent(absent) => self.run.touch(absent),
            other => stop(
                Code::DimensionClash,
                format!("`{}` wants {wanted}, found {}", self.name, other.described(self.run)),
            ),
        }
    }

    pub fn fail(&self, message: impl std::fmt::Display) -> Stop {
        stop(Code::FaultyScript, format!("`{}`: {message}", self.name))
    }

    pub fn number(&self, index: usize) -> Result<f64, Stop> {
        match self.operand(index) {
            Operand::Number(number) => Ok(number),
            Operand::Whole(whole) => Ok(whole as f64),
            other => Err(self.refuse_value(&other, "a plain number")),
        }
    }

    pub fn whole(&self, index: usize, what: &str) -> Result<i64, Stop> {
        whole_number(self.run, self.values[index], what)
    }

    /// A number or a quantity.
    pub fn quantity(&self, index: usize) -> Result<Quantity, Stop> {
        let operand = self.operand(index);
        operand.measured().ok_or_else(|| self.refuse_value(&operand, "a number or a quantity"))
    }

    pub fn text(&self, index: usize) -> Result<ImmutableString, Stop> {
        match self.operand(index) {
            Operand::Text(text) => Ok(text),
            other => Err(self.refuse_value(&other, "a text")),
        }
    }

    pub fn span(&self, index: usize) -> Result<Span, Stop> {
        match self.operand(index) {
            Operand::Span(span) => Ok(span),
            other => Err(self.refuse_value(&other, "a range")),
        }
    }

    pub fn day(&self, index: usize) -> Result<Day, Stop> {
        match self.operand(index) {
            Operand::Day(day) => Ok(day),
            other => Err(self.refuse_value(&other, "a date")),
        }
    }

    pub fn list(&self, index: usize) -> Result<Array, Stop> {
        match self.values[index].read_lock::<Array>() {
            Some(list) => Ok(list.clone()),
            None => Err(self.refuse(index, "a list")),
        }
    }

    pub fn record(&self, index: usize) -> Result<Map, Stop> {
        match self.values[index].read_lock::<Map>() {
            Some(record) => Ok(record.clone()),
            None => Err(self.refuse(index, "a record")),
        }
    }

    pub fn function(&self, index: usize) -> Result<FnPtr, Stop> {
        match self.values[index].read_lock::<FnPtr>() {
            Some(function) => Ok(function.clone()),
            None => Err(self.refuse(index, "a function, as `|x| x + 1`")),
        }
    }

    pub fn apply(&self, function: &FnPtr, value: Dynamic) -> Answer {
        function.call_within_context(self.context, (value,))
    }

    pub fn truth_of(&self, value: &Dynamic, what: &str) -> Result<bool, Stop> {
        match Operand::of(value) {
            Operand::Truth(truth) => Ok(truth),
            Operand::Absent(absent) => Err(self.run.touch(&absent)),
            other => Err(self.fail(format!("{what} gives {}, not true or false", other.described(self.run)))),
        }
    }
}
