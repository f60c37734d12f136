//! The hidden state of one unit, moved on by the functions of the model.

use indexmap::IndexMap;

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_script::{Fault, Scripts};
use standpipe_yaml::At;

use crate::interpreted::Watched;
use crate::model::{ADVANCE, FRESH, Model};

/// What is true of one unit. Only the functions of its model look into it.
pub struct Hidden<'a> {
    model: &'a Model,
    scripts: &'a Scripts,
    /// As functions see it: the state under `s`, what was drawn and what is known of the family under `d`.
    given: IndexMap<String, Value>,
    /// What `conserved` was at the start.
    whole: Option<Value>,
    watched: Option<&'a Watched>,
}

const STATE: &str = "s";
const DRAWN: &str = "d";

/// Seconds that a model is asked to go on at once: its functions may take so many operations, and a night is long.
const AT_ONCE: f64 = 1_800.0;

/// By how much a total may change that is conserved: sums of floating-point numbers do not come out even.
const LOST: f64 = 1e-9;

impl<'a> Hidden<'a> {
    /// A unit as it comes in.
    pub fn new(
        model: &'a Model,
        scripts: &'a Scripts,
        drawn: IndexMap<String, Value>,
        watched: Option<&'a Watched>,
    ) -> Result<Self, Box<Diagnostic>> {
        let given = IndexMap::from([(DRAWN.to_owned(), Value::Record(drawn))]);
        let mut hidden = Self { model, scripts, given, whole: None, watched };
        let fresh = At::new(FRESH.to_owned(), model.script.place.clone());
        let state = hidden.call(&fresh, &[])?;
        hidden.given.insert(STATE.to_owned(), state);
        hidden.whole = hidden.total()?;
        Ok(hidden)
    }

    /// Calls a function with the state, what was drawn, and what goes with the call.
    pub fn call(&mut self, function: &At<String>, more: &[(&str, Value)]) -> Result<Value, Box<Diagnostic>> {
        for (name, value) in more {
            self.given.insert((*name).to_owned(), value.clone());
        }
        let name = self.model.function(function);
        let program = self.scripts.program_for(&self.model.plugin, &name, &self.given);
        let quick = program.and_then(|program| program.run(&self.given)?.ok());
        if let Some(watched) = self.watched {
            watched.note(function, self.model, self.scripts, &self.given, quick.is_some());
        }
        let result = match quick {
            Some(value) => Ok(value),
            None => self.scripts.call_for(&self.model.plugin, &name, self.given.clone()),
        };
        for (name, _) in more {
            self.given.shift_remove(*name);
        }
        result.map_err(|fault| match fault {
            Fault::Failed(problem) => problem,
            Fault::NotShown(missing) => {
                let message = format!("`{}` gives nothing: {}", function.value, missing.join(", "));
                Box::new(Diagnostic::error(Code::ModelFails, &function.place, message))
            }
        })
    }

    /// The same, where the result is the state as it is then.
    pub fn change(&mut self, function: &At<String>, more: &[(&str, Value)]) -> Result<(), Box<Diagnostic>> {
        let state = self.call(function, more)?;
        if !matches!(state, Value::Record(_)) {
            let message = format!("`{}` gives no state", function.value);
            return Err(Box::new(
                Diagnostic::error(Code::ModelFails, &function.place, message)
                    .expected("the record that it was given as `s`, with what has changed"),
            ));
        }
        if let Some(known) = self.given.get_mut(STATE) {
            *known = state;
        }
        self.is_whole(function)
    }

    /// Lets a time go by, in seconds.
    pub fn advance(&mut self, seconds: f64) -> Result<(), Box<Diagnostic>> {
        let mut left = seconds;
        while left > 0.0 {
            self.advance_by(left.min(AT_ONCE))?;
            left -= AT_ONCE;
        }
        Ok(())
    }

    fn advance_by(&mut self, seconds: f64) -> Result<(), Box<Diagnostic>> {
        let time = self.scripts.units().quantity(seconds, "s").map(Value::Quantity);
        let time = time.unwrap_or(Value::Number(seconds));
        let advance = At::new(ADVANCE.to_owned(), self.model.script.place.clone());
        self.change(&advance, &[("dt", time)])
    }

    /// Whether a function of the state holds.
    pub fn holds(&mut self, function: &At<String>) -> Result<bool, Box<Diagnostic>> {
        match self.call(function, &[])? {
            Value::Truth(truth) => Ok(truth),
            _ => {
                let message = format!("`{}` is neither true nor false", function.value);
                Err(Box::new(Diagnostic::error(Code::ModelFails, &function.place, message)))
            }
        }
    }

    /// What a function of the state gives, as a number.
    pub fn number(&mut self, function: &At<String>) -> Result<Quantity, Box<Diagnostic>> {
        match self.call(function, &[])? {
            Value::Quantity(quantity) => Ok(quantity),
            Value::Number(number) => Ok(Quantity::number(number)),
            _ => {
                let message = format!("`{}` gives no number", function.value);
                Err(Box::new(Diagnostic::error(Code::ModelFails, &function.place, message)))
            }
        }
    }

    fn total(&mut self) -> Result<Option<Value>, Box<Diagnostic>> {
        let Some(conserved) = self.model.conserved.as_ref() else { return Ok(None) };
        self.call(conserved, &[]).map(Some)
    }

    fn is_whole(&mut self, function: &At<String>) -> Result<(), Box<Diagnostic>> {
        let (Some(Value::Quantity(before)), Some(Value::Quantity(now))) = (self.whole.clone(), self.total()?) else {
            return Ok(());
        };
        if (now.si - before.si).abs() <= LOST * before.si.abs() {
            return Ok(());
        }
        let message = format!("`{}` does not keep what should stay: {} became {}", function.value, before.si, now.si);
        Err(Box::new(
            Diagnostic::error(Code::ModelFails, &function.place, message).expected("the same total as at the start"),
        ))
    }
}
