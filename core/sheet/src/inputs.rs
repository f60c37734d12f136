//! Inputs on their way into a sheet: all there, of their kind, inside their limits.

use indexmap::IndexMap;

use super::shape::Misfit;
use super::{Input, Sheet};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Style, Units};
use standpipe_script::Fault;

/// Inputs that a sheet takes.
#[derive(Clone, Debug, Default)]
pub struct Checked {
    /// By name; what may be left out and was is not there.
    pub values: IndexMap<String, Value>,
    /// What lies outside the range in which the formula holds.
    pub warnings: Vec<String>,
}

/// Why a sheet does not take its inputs: everything that is wrong with them, and what is not known.
#[derive(Clone, Debug, Default)]
pub struct Refused {
    /// What is wrong.
    pub problems: Problems,
    /// What nobody knows.
    pub unknown: Vec<String>,
}

/// Where the inputs were written, if somebody wrote them: messages stand there, and name the sheet's line beside it.
#[derive(Clone, Debug, Default)]
pub struct Places {
    /// Where what is missing could be added.
    pub whole: Option<Place>,
    /// By name.
    pub inputs: IndexMap<String, Place>,
}

impl From<Refused> for Fault {
    fn from(refused: Refused) -> Self {
        match refused.problems.into_iter().next() {
            Some(first) => Fault::Failed(first.into()),
            None => Fault::NotShown(refused.unknown),
        }
    }
}

impl Places {
    fn problem(&self, code: Code, name: &str, message: String, declared: &Place, label: &str) -> Diagnostic {
        match self.inputs.get(name) {
            Some(place) => Diagnostic::error(code, place, message).also(declared, label),
            None => Diagnostic::error(code, declared, message),
        }
    }
}

impl Sheet {
    /// Checks the inputs of one run.
    pub fn check_inputs(
        &self,
        mut given: IndexMap<String, Value>,
        units: &Units,
        places: &Places,
    ) -> Result<Checked, Refused> {
        let mut checked = Checked::default();
        let mut refused = Refused::default();
        let mut missing = Vec::new();
        for (name, input) in &self.inputs {
            let value = match given.shift_remove(name) {
                Some(Value::Unknown) if self.is_optional(name) => input.default.clone(),
                Some(value) => Some(value),
                None => input.default.clone(),
            };
            match value {
                Some(value) => match input.shape.fit_listed(input.list, &value, name, units) {
                    Ok(value) => {
                        let problem = input.judge(&value, name, units, places, &mut checked.warnings);
                        refused.problems.extend(problem);
                        checked.values.insert(name.clone(), value);
                    }
                    Err(Misfit::Unknown(name)) => refused.unknown.push(name),
                    Err(Misfit::Wrong(message)) => {
                        let label = format!("this input is {}", input.described());
                        let problem = places.problem(Code::FaultyInput, name, message, &input.place, &label);
                        refused.problems.push(if places.inputs.contains_key(name) {
                            problem
                        } else {
                            problem.label(label)
                        });
                    }
                },
                None if input.optional => {}
                None => missing.push(name.as_str()),
            }
        }
        refused.problems.extend(given.keys().map(|extra| self.no_input(extra, places.inputs.get(extra))));
        refused.problems.extend(self.missing(&missing, places));
        if refused.problems.is_empty() && refused.unknown.is_empty() { Ok(checked) } else { Err(refused) }
    }

    /// There is no input of that name.
    pub fn no_input(&self, name: &str, place: Option<&Place>) -> Diagnostic {
        let names = || self.inputs.keys().map(String::as_str);
        let message = format!("sheet `{}` has no input `{name}`", self.id);
        Diagnostic::error(Code::FaultyInput, place.unwrap_or(&self.place), message)
            .expected(names().collect::<Vec<_>>().join(", "))
            .near(name, names())
    }

    fn missing(&self, missing: &[&str], places: &Places) -> Option<Diagnostic> {
        let first = &self.inputs[*missing.first()?];
        let names = missing.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
        let message = format!("sheet `{}` needs {names}", self.id);
        let problem = match &places.whole {
            Some(place) => Diagnostic::error(Code::FaultyInput, place, message).also(&first.place, "declared here"),
            None => Diagnostic::error(Code::FaultyInput, &first.place, message),
        }
        .expected(match missing {
            [_] => first.with_help(),
            all => all
                .iter()
                .map(|name| format!("{name}: {}", self.inputs[*name].with_help()))
                .collect::<Vec<_>>()
                .join("; "),
        });
        Some(problem)
    }
}

impl Input {
    /// What it takes, in words.
    pub fn described(&self) -> String {
        if self.list { format!("a list, each {}", self.shape.described()) } else { self.shape.described() }
    }

    fn with_help(&self) -> String {
        match &self.help {
            Some(help) => format!("{} ({help})", self.described()),
            None => self.described(),
        }
    }

    /// Limits are refused, the valid range as the sheet says. Both ends belong to a range.
    fn judge(
        &self,
        value: &Value,
        name: &str,
        units: &Units,
        places: &Places,
        warnings: &mut Vec<String>,
    ) -> Option<Diagnostic> {
        let number;
        let (low, high) = match value {
            Value::Quantity(quantity) => (quantity, quantity),
            Value::Number(value) => {
                number = Quantity::number(*value);
                (&number, &number)
            }
            Value::Range(low, high) => (low, high),
            Value::List(items) => {
                let mut items = items.iter().enumerate();
                return items
                    .find_map(|(index, item)| self.judge(item, &format!("{name}[{index}]"), units, places, warnings));
            }
            _ => return None,
        };
        let style = Style::default();
        let less = |a: &Quantity, b: &Quantity| units.compare(a, b).is_ok_and(|order| order.is_lt());
        let found = || if less(low, high) { units.show_range(low, high, &style) } else { units.show_plainly(low) };
        // Entries of a list stand where the list was written.
        let written = name.split('[').next().unwrap_or(name);
        if let Some(limit) = self.at_least.as_ref().filter(|limit| less(low, limit)) {
            let message = format!("{name} is {}, but must be at least {}", found(), units.show(limit, &style));
            return Some(places.problem(Code::InputBeyondLimit, written, message, &limit.place, "the limit"));
        }
        if let Some(limit) = self.at_most.as_ref().filter(|limit| less(limit, high)) {
            let message = format!("{name} is {}, but must be at most {}", found(), units.show(limit, &style));
            return Some(places.problem(Code::InputBeyondLimit, written, message, &limit.place, "the limit"));
        }
        if let Some(valid) = self.valid.as_ref().filter(|valid| less(low, &valid.0) || less(&valid.1, high)) {
            let range = units.show_range(&valid.0, &valid.1, &style);
            let message = format!("{name} is {}, outside {range} where the formula holds", found());
            if self.refuses {
                return Some(places.problem(
                    Code::InputBeyondValidity,
                    written,
                    message,
                    &valid.place,
                    "the sheet refuses outside it",
                ));
            }
            warnings.push(message);
        }
        None
    }
}
