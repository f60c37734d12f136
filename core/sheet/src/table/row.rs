//! One row.

use super::chunk::Cells;
use super::{Column, Row, Table};
use crate::text::UNKNOWN;
use crate::uncertainty::{self, Error, Found, Plan, Spread, propagate_here};
use crate::{Places, Refused, Shape, cell};
use standpipe_diagnostic::Diagnostic;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, starts_with_number};
use standpipe_script::{Fault, Scripts};

impl Table<'_> {
    /// Runs the sheet on a row, or says in one line why not.
    pub(super) fn compute(&self, scripts: &Scripts, cells: &Cells<'_>) -> Result<Row, String> {
        if cells.len() != self.columns.len() {
            return Err(format!("the row has {} cells, the first line has {}", cells.len(), self.columns.len()));
        }
        let mut inputs = self.fixed.clone();
        let mut spreads = self.uncertain.as_ref().map(|uncertain| uncertain.spreads.clone()).unwrap_or_default();
        for (column, bytes) in self.columns.iter().zip(cells.iter()) {
            let (name, unit, scale) = match column {
                Column::Input { name, unit, scale } => (name, unit, scale),
                Column::Standard { name, factor } => {
                    if let Some(error) = standard(name, bytes, *factor)? {
                        spreads.entry(name.clone()).or_default().0.push(error);
                    }
                    continue;
                }
                Column::Carried => continue,
            };
            let Ok(text) = std::str::from_utf8(bytes) else { return Err(format!("{name}: the cell is not UTF-8")) };
            let text = text.trim();
            // An empty cell is nothing, not an empty list or text.
            if text.is_empty() {
                continue;
            }
            let value = match scale.as_ref().and_then(|scale| scale.read(text)) {
                Some(value) => value,
                None => {
                    let (value, spread) = self.slowly(name, text, unit.as_deref())?;
                    if let Some(spread) = spread {
                        spreads.entry(name.clone()).or_default().0.extend(spread.0);
                    }
                    value
                }
            };
            inputs.insert(name.clone(), value);
        }
        let given = self.uncertain.as_ref().map(|uncertain| (uncertain.seed, inputs.clone()));
        let checked =
            self.sheet.check_inputs(inputs, self.units, &Places::default()).map_err(|refused| said(&refused))?;
        let outcome = self.sheet.run_checked(scripts, checked).map_err(|fault| match fault {
            Fault::NotShown(names) => not_known(&names),
            Fault::Failed(problem) => problem.message,
        })?;
        let found = match given.filter(|_| !spreads.is_empty()) {
            None => None,
            Some((seed, inputs)) => {
                let plan = Plan { seed, ..Plan::new(self.sheet, self.units, &inputs, &spreads) };
                Some(propagate_here(&plan, scripts).map_err(|fault| fault.message())?)
            }
        };
        Ok(Row { outcome, found })
    }

    fn slowly(&self, name: &str, text: &str, unit: Option<&str>) -> Result<(Value, Option<Spread>), String> {
        if text == UNKNOWN {
            return Ok((Value::Unknown, None));
        }
        let place = Place::whole(&Source::new("<cell>", text));
        let input = &self.sheet.inputs[name];
        let said = |problem: Box<Diagnostic>| format!("{name}: {}", in_one_line(&problem));
        if let Shape::Quantity(of) = &input.shape
            && !input.list
            && let Some((value, spread)) = uncertainty::read(text, of, unit, self.units, &place).map_err(said)?
        {
            return match self.uncertain {
                Some(_) => Ok((value, Some(spread))),
                None => Err(format!("{name}: `{text}` may be off; add --uncertainty to have that computed")),
            };
        }
        Ok((input.read_text(text, unit, self.units, &place).map_err(said)?, None))
    }

    /// The cells behind those that were given: results, warnings, error.
    pub(super) fn result(&self, row: &Result<Row, String>, write: &mut impl FnMut(&str)) {
        let row = row.as_ref();
        for (name, output) in &self.sheet.outputs {
            let unit = output.unit.as_deref();
            let value = row.ok().and_then(|row| row.outcome.outputs.get(name));
            match value {
                Some(value) => write(&cell(value, unit, self.units)),
                None => write(""),
            }
            let Shape::Quantity(of) = &output.shape else { continue };
            if self.uncertain.is_none() {
                continue;
            }
            let found = row.ok().and_then(|row| row.found.as_ref()?.outputs.get(name));
            match (found, value) {
                (Some(Found::Number { uncertain, .. }), Some(value)) => {
                    let factor = self.units.difference(1.0, of, unit.unwrap_or_default()).unwrap_or(1.0);
                    write(&cell(&Value::Number(uncertain.standard / factor), None, self.units));
                    for end in [uncertain.low, uncertain.high] {
                        write(&cell(&moved_to(value, end), unit, self.units));
                    }
                }
                _ => (0..3).for_each(|_| write("")),
            }
        }
        write(&row.map_or(String::new(), |row| row.outcome.warnings.join("; ")));
        write(row.err().map_or("", String::as_str));
    }
}

/// A cell under `u(NAME)`; nothing where it is empty.
fn standard(name: &str, bytes: &[u8], factor: f64) -> Result<Option<Error>, String> {
    let text = std::str::from_utf8(bytes).unwrap_or_default().trim();
    if text.is_empty() {
        return Ok(None);
    }
    let number = starts_with_number(text).filter(|number| number.end == text.len() && number.value >= 0.0);
    number
        .map(|number| Some(Error::Normal(number.value * factor)))
        .ok_or_else(|| format!("u({name}): `{text}` is not a standard uncertainty"))
}

/// The same thing with another size.
fn moved_to(value: &Value, si: f64) -> Value {
    match value {
        Value::Quantity(quantity) => Value::Quantity(Quantity { si, written: None, ..quantity.clone() }),
        _ => Value::Number(si),
    }
}

fn said(refused: &Refused) -> String {
    if refused.problems.is_empty() {
        return not_known(&refused.unknown);
    }
    refused.problems.iter().map(in_one_line).collect::<Vec<_>>().join("; ")
}

fn in_one_line(problem: &Diagnostic) -> String {
    let help = problem.help.as_ref().filter(|help| help.starts_with("did you mean"));
    help.map_or_else(|| problem.message.clone(), |help| format!("{}, {help}", problem.message))
}

fn not_known(names: &[String]) -> String {
    format!("nothing can be shown: {} is not known", names.join(", "))
}
