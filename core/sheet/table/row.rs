//! One row.

use csv::ByteRecord;

use super::{Column, Table};
use crate::diagnostic::Diagnostic;
use crate::script::{Fault, Scripts};
use crate::sheet::text::UNKNOWN;
use crate::sheet::{Outcome, Places, Refused, cell};
use crate::source::{Place, Source};
use crate::value::Value;

impl Table<'_> {
    /// Runs the sheet on a row, or says in one line why not.
    pub(super) fn compute(&self, scripts: &Scripts, cells: &ByteRecord) -> Result<Outcome, String> {
        if cells.len() != self.columns.len() {
            return Err(format!("the row has {} cells, the first line has {}", cells.len(), self.columns.len()));
        }
        let mut inputs = self.fixed.clone();
        for (column, bytes) in self.columns.iter().zip(cells) {
            let Column::Input { name, unit, scale } = column else { continue };
            let Ok(text) = std::str::from_utf8(bytes) else { return Err(format!("{name}: the cell is not UTF-8")) };
            let text = text.trim();
            // An empty cell is nothing, not an empty list or text.
            if text.is_empty() {
                continue;
            }
            let value = match scale.as_ref().and_then(|scale| scale.read(text)) {
                Some(value) => value,
                None => self.slowly(name, text, unit.as_deref())?,
            };
            inputs.insert(name.clone(), value);
        }
        let checked =
            self.sheet.check_inputs(inputs, self.units, &Places::default()).map_err(|refused| said(&refused))?;
        self.sheet.run_checked(scripts, checked).map_err(|fault| match fault {
            Fault::NotShown(names) => not_known(&names),
            Fault::Failed(problem) => problem.message,
        })
    }

    fn slowly(&self, name: &str, text: &str, unit: Option<&str>) -> Result<Value, String> {
        if text == UNKNOWN {
            return Ok(Value::Unknown);
        }
        let place = Place::whole(&Source::new("<cell>", text));
        let read = self.sheet.inputs[name].read_text(text, unit, self.units, &place);
        read.map_err(|problem| format!("{name}: {}", in_one_line(&problem)))
    }

    /// The cells behind those that were given: results, warnings, error.
    pub(super) fn result(&self, outcome: &Result<Outcome, String>, write: &mut impl FnMut(&str)) {
        let outcome = outcome.as_ref();
        for (name, output) in &self.sheet.outputs {
            match outcome.ok().and_then(|outcome| outcome.outputs.get(name)) {
                Some(value) => write(&cell(value, output.unit.as_deref(), self.units)),
                None => write(""),
            }
        }
        write(&outcome.map_or(String::new(), |outcome| outcome.warnings.join("; ")));
        write(outcome.err().map_or("", String::as_str));
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
