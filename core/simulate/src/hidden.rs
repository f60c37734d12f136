//! The hidden state of one unit, moved on by the functions of the model.

use indexmap::IndexMap;

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_script::{Fault, Flat, Scripts};
use standpipe_yaml::At;

use crate::interpreted::Watched;
use crate::model::{ADVANCE, FRESH, Model};

/// What is true of one unit. Only the functions of its model look into it.
pub struct Hidden<'a> {
    model: &'a Model,
    scripts: &'a Scripts,
    /// As functions see it under `s`; nothing until it has come in.
    state: Option<Flat>,
    /// What was drawn and what is known of the family, under `d`.
    drawn: Flat,
    /// The function that lets time go by.
    advance: At<String>,
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
        let own = |name: &str| At::new(name.to_owned(), model.script.place.clone());
        let (drawn, advance) = (scripts.flat(&Value::Record(drawn)), own(ADVANCE));
        let mut hidden = Self { model, scripts, state: None, drawn, advance, whole: None, watched };
        hidden.state = Some(hidden.flat(&own(FRESH), &[])?);
        hidden.whole = hidden.total()?;
        Ok(hidden)
    }

    /// Calls a function with the state, what was drawn, and what goes with the call.
    pub fn call(&self, function: &At<String>, more: &[(&str, Value)]) -> Result<Value, Box<Diagnostic>> {
        Ok(self.flat(function, more)?.value())
    }

    fn flat(&self, function: &At<String>, more: &[(&str, Value)]) -> Result<Flat, Box<Diagnostic>> {
        let more: Vec<(&str, Flat)> = more.iter().map(|(name, value)| (*name, self.scripts.flat(value))).collect();
        let mut given = vec![(DRAWN, &self.drawn)];
        given.extend(self.state.as_ref().map(|state| (STATE, state)));
        given.extend(more.iter().map(|(name, flat)| (*name, flat)));
        let name = self.model.function(function);
        if let Some(watched) = self.watched {
            watched.note(function, self.model, self.scripts, &given);
        }
        self.scripts.call_flat(&self.model.plugin, &name, &given).map_err(|fault| match fault {
            Fault::Failed(problem) => problem,
            Fault::NotShown(missing) => {
                let message = format!("`{}` gives nothing: {}", function.value, missing.join(", "));
                Box::new(Diagnostic::error(Code::ModelFails, &function.place, message))
            }
        })
    }

    /// The same, where the result is the state as it is then.
    pub fn change(&mut self, function: &At<String>, more: &[(&str, Value)]) -> Result<(), Box<Diagnostic>> {
        let state = self.flat(function, more)?;
        if !state.is_record() {
            let message = format!("`{}` gives no state", function.value);
            return Err(Box::new(
                Diagnostic::error(Code::ModelFails, &function.place, message)
                    .expected("the record that it was given as `s`, with what has changed"),
            ));
        }
        self.state = Some(state);
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
        let advance = self.advance.clone();
        self.change(&advance, &[("dt", time)])
    }

    /// Whether a function of the state holds.
    pub fn holds(&self, function: &At<String>) -> Result<bool, Box<Diagnostic>> {
        match self.call(function, &[])? {
            Value::Truth(truth) => Ok(truth),
            _ => {
                let message = format!("`{}` is neither true nor false", function.value);
                Err(Box::new(Diagnostic::error(Code::ModelFails, &function.place, message)))
            }
        }
    }

    /// What a function of the state gives, as a number.
    pub fn number(&self, function: &At<String>) -> Result<Quantity, Box<Diagnostic>> {
        match self.call(function, &[])? {
            Value::Quantity(quantity) => Ok(quantity),
            Value::Number(number) => Ok(Quantity::number(number)),
            _ => {
                let message = format!("`{}` gives no number", function.value);
                Err(Box::new(Diagnostic::error(Code::ModelFails, &function.place, message)))
            }
        }
    }

    fn total(&self) -> Result<Option<Value>, Box<Diagnostic>> {
        let Some(conserved) = self.model.conserved.as_ref() else { return Ok(None) };
        self.call(conserved, &[]).map(Some)
    }

    fn is_whole(&self, function: &At<String>) -> Result<(), Box<Diagnostic>> {
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
