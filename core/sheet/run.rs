//! One run of a sheet: inputs checked, the function called, outputs checked.

use indexmap::IndexMap;

use super::check::WARNINGS;
use super::shape::{Misfit, described};
use super::{Input, Output, Sheet};
use crate::diagnostic::{Code, Diagnostic, nearest};
use crate::quantity::{Quantity, Style, Units};
use crate::script::{Fault, Scripts};
use crate::value::Value;

/// What a sheet gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// In the order in which the sheet declares them.
    pub outputs: IndexMap<String, Value>,
    pub warnings: Vec<String>,
}

impl Sheet {
    /// Runs the sheet once. Whatever is unknown makes the result not shown; whatever is wrong is refused.
    pub fn run(&self, scripts: &Scripts, inputs: IndexMap<String, Value>) -> Result<Outcome, Fault> {
        let units = scripts.units();
        let mut warnings = Vec::new();
        let inputs = self.checked_inputs(inputs, units, &mut warnings)?;
        let result = scripts.call_for(&self.plugin, &self.script, inputs)?;
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
        Fault::Failed(Diagnostic::error(Code::H001, place, format!("sheet `{}`: {message}", self.id)).into())
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
                _ => Err(self.faulty("its function gives warnings that are no texts".to_owned())),
            })
            .collect()
    }

    fn checked_inputs(
        &self,
        mut given: IndexMap<String, Value>,
        units: &Units,
        warnings: &mut Vec<String>,
    ) -> Result<IndexMap<String, Value>, Fault> {
        let mut checked = IndexMap::new();
        let (mut unknown, mut missing) = (Vec::new(), Vec::new());
        for (name, input) in &self.inputs {
            let value = match given.shift_remove(name) {
                Some(Value::Unknown) if self.is_optional(name) => input.default.clone(),
                Some(value) => Some(value),
                None => input.default.clone(),
            };
            match value {
                Some(value) => match input.shape.fit_listed(input.list, &value, name, units) {
                    Ok(value) => {
                        input.judge(&value, name, units, warnings)?;
                        checked.insert(name.clone(), value);
                    }
                    Err(Misfit::Unknown(name)) => unknown.push(name),
                    Err(Misfit::Wrong(message)) => {
                        let diagnostic = Diagnostic::error(Code::H002, &input.place, message)
                            .label(format!("this input is {}", input.described()));
                        return Err(Fault::Failed(diagnostic.into()));
                    }
                },
                None if input.optional => {}
                None => missing.push(name.as_str()),
            }
        }
        if let Some(extra) = given.keys().next() {
            let mut diagnostic =
                Diagnostic::error(Code::H002, &self.place, format!("sheet `{}` has no input `{extra}`", self.id))
                    .expected(self.inputs.keys().map(String::as_str).collect::<Vec<_>>().join(", "));
            if let Some(near) = nearest(extra, self.inputs.keys().map(String::as_str)) {
                diagnostic = diagnostic.help(format!("did you mean `{near}`?"));
            }
            return Err(Fault::Failed(diagnostic.into()));
        }
        if let Some(first) = missing.first() {
            let names = missing.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
            let mut diagnostic =
                Diagnostic::error(Code::H002, &self.inputs[*first].place, format!("sheet `{}` needs {names}", self.id))
                    .expected(self.inputs[*first].described());
            diagnostic.help = self.inputs[*first].help.clone();
            return Err(Fault::Failed(diagnostic.into()));
        }
        if unknown.is_empty() { Ok(checked) } else { Err(Fault::NotShown(unknown)) }
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

impl Input {
    pub(super) fn described(&self) -> String {
        if self.list { format!("a list, each {}", self.shape.described()) } else { self.shape.described() }
    }

    /// Limits are refused, the valid range as the sheet says. Both ends belong to a range.
    fn judge(&self, value: &Value, name: &str, units: &Units, warnings: &mut Vec<String>) -> Result<(), Fault> {
        let (low, high) = match value {
            Value::Quantity(quantity) => (quantity.clone(), quantity.clone()),
            Value::Number(number) => (Quantity::number(*number), Quantity::number(*number)),
            Value::Range(low, high) => (low.clone(), high.clone()),
            Value::List(items) => {
                for (index, item) in items.iter().enumerate() {
                    self.judge(item, &format!("{name}[{index}]"), units, warnings)?;
                }
                return Ok(());
            }
            _ => return Ok(()),
        };
        let style = Style::default();
        let less = |a: &Quantity, b: &Quantity| units.compare(a, b).is_ok_and(|order| order.is_lt());
        let found = if less(&low, &high) { units.show_range(&low, &high, &style) } else { units.show(&low, &style) };
        if let Some(limit) = self.at_least.as_ref().filter(|limit| less(&low, limit)) {
            let message = format!("{name} is {found}, but must be at least {}", units.show(limit, &style));
            return Err(Fault::Failed(Diagnostic::error(Code::H003, &limit.place, message).into()));
        }
        if let Some(limit) = self.at_most.as_ref().filter(|limit| less(limit, &high)) {
            let message = format!("{name} is {found}, but must be at most {}", units.show(limit, &style));
            return Err(Fault::Failed(Diagnostic::error(Code::H003, &limit.place, message).into()));
        }
        if let Some(valid) = self.valid.as_ref().filter(|valid| less(&low, &valid.0) || less(&valid.1, &high)) {
            let range = units.show_range(&valid.0, &valid.1, &style);
            let message = format!("{name} is {found}, outside {range} where the formula holds");
            if self.refuses {
                return Err(Fault::Failed(Diagnostic::error(Code::H004, &valid.place, message).into()));
            }
            warnings.push(message);
        }
        Ok(())
    }
}
