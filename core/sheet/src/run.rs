//! One run of a sheet: inputs checked, the function called, outputs checked.

use indexmap::IndexMap;

use super::inputs::{Checked, Places};
use super::shape::{Misfit, described};
use super::{Output, Sheet};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_script::{Explained, Fault, Scripts, WARNINGS};

/// What a sheet gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// In the order in which the sheet declares them.
    pub outputs: IndexMap<String, Value>,
    /// What is to be known beside the result.
    pub warnings: Vec<String>,
}

impl Sheet {
    /// Runs the sheet once. Whatever is unknown makes the result not shown; whatever is wrong is refused.
    pub fn run(&self, scripts: &Scripts, inputs: IndexMap<String, Value>) -> Result<Outcome, Fault> {
        self.run_checked(scripts, self.check_inputs(inputs, scripts.units(), &Places::default())?)
    }

    /// As [`Sheet::run`], with inputs that were checked before.
    pub fn run_checked(&self, scripts: &Scripts, inputs: Checked) -> Result<Outcome, Fault> {
        let result = scripts.call_for(&self.plugin, &self.script, inputs.values)?;
        self.outcome(result, inputs.warnings, scripts.units())
    }

    /// Runs the sheet once, and keeps what the variables of its function held, however it ended.
    pub fn explain(&self, scripts: &Scripts, inputs: Checked) -> (Result<Outcome, Fault>, IndexMap<String, Value>) {
        match scripts.explain_for(&self.plugin, &self.script, inputs.values) {
            Err(fault) => (Err(fault), IndexMap::new()),
            Ok(Explained { result, steps }) => {
                let outcome = result.and_then(|result| self.outcome(result, inputs.warnings, scripts.units()));
                (outcome, steps)
            }
        }
    }

    fn outcome(&self, result: Value, mut warnings: Vec<String>, units: &Units) -> Result<Outcome, Fault> {
        let Value::Record(mut fields) = result else {
            return Err(self.faulty(format!("its function gives {}, not a record", described(&result, units))));
        };
        if let Some(more) = fields.shift_remove(WARNINGS) {
            warnings.extend(self.warnings(more)?);
        }
        let mut outputs = IndexMap::new();
        let mut unknown = Vec::new();
        for (name, output) in &self.outputs {
            match self.checked_output(name, output, fields.shift_remove(name), units)? {
                Value::Unknown if !output.optional => unknown.push(name.clone()),
                value => {
                    outputs.insert(name.clone(), value);
                }
            }
        }
        if !unknown.is_empty() {
            return Err(Fault::NotShown(unknown));
        }
        if let Some(extra) = fields.keys().next() {
            return Err(self.faulty(format!("its function gives `{extra}`, which the sheet does not declare")));
        }
        Ok(Outcome { outputs, warnings })
    }

    fn faulty(&self, message: String) -> Fault {
        let place = &self.script.place;
        Fault::Failed(Diagnostic::error(Code::FaultySheet, place, format!("sheet `{}`: {message}", self.id)).into())
    }

    fn warnings(&self, value: Value) -> Result<Vec<String>, Fault> {
        let texts = match value {
            Value::List(items) => items,
            one => vec![one],
        };
        texts
            .into_iter()
            .map(|text| match text {
                Value::Text(text) => Ok(text),
                _ => Err(self.faulty("its function gives warnings that are not texts".to_owned())),
            })
            .collect()
    }

    fn checked_output(&self, name: &str, output: &Output, value: Option<Value>, units: &Units) -> Result<Value, Fault> {
        let value = match value {
            Some(value) => value,
            None if output.optional => return Ok(Value::Unknown),
            None => return Err(self.faulty(format!("its function gives no `{name}`"))),
        };
        if output.list && !matches!(value, Value::List(_) | Value::Unknown) {
            return Err(self.faulty(format!("its output {name} is {}, not a list", described(&value, units))));
        }
        match output.shape.fit_listed(output.list, &value, name, units) {
            Ok(value) => Ok(value),
            Err(Misfit::Unknown(_)) => Ok(Value::Unknown),
            Err(Misfit::Wrong(message)) => match self.faulty(format!("its output {message}")) {
                Fault::Failed(diagnostic) => Err(Fault::Failed(diagnostic.also(&output.place, "declared here").into())),
                other => Err(other),
            },
        }
    }
}
