//! Lists of values or records from a CSV file: `readings=@cooling.csv`.

use std::sync::Arc;

use indexmap::IndexMap;

use super::Input;
use super::heading::{Heading, separator};
use super::shape::{Part, Shape};
use super::text::UNKNOWN;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, nearest};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;

impl Input {
    /// Reads a list from a CSV text. Its first line names the columns, as `name` or `name [unit]`; `name` is the input's.
    pub fn read_series(&self, name: &str, source: &Arc<Source>, units: &Units) -> Result<Value, Box<Diagnostic>> {
        if !self.list {
            let message = format!("`{name}` is {}, not a list: a file can't stand for it", self.described());
            return Err(Box::new(Diagnostic::error(Code::FaultyInput, &Place::whole(source), message)));
        }
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator(&source.text))
            .from_reader(source.text.as_bytes());
        let mut rows = reader.records();
        let first = rows.next().transpose().map_err(|fault| unreadable(&fault, source))?;
        let Some(first) = first else {
            let problem = Diagnostic::error(Code::FaultyInput, &Place::whole(source), "the file is empty");
            return Err(Box::new(problem.help("its first line names the columns, e.g. `volume [L]`")));
        };
        let headings: Vec<Heading> = first.iter().map(Heading::read).collect();
        let columns = self.columns(name, &headings, source)?;
        let mut items = Vec::new();
        for row in rows {
            let row = row.map_err(|fault| unreadable(&fault, source))?;
            let place = line_of(source, row.position().map_or(1, csv::Position::line));
            if row.len() != headings.len() {
                let message = format!("the line has {} cells, the first line has {}", row.len(), headings.len());
                return Err(Box::new(Diagnostic::error(Code::FaultyInput, &place, message)));
            }
            items.push(columns.item(&row, &headings, units, &place)?);
        }
        Ok(Value::List(items))
    }

    /// Which column is which.
    fn columns<'a>(
        &'a self,
        name: &str,
        headings: &[Heading],
        source: &Arc<Source>,
    ) -> Result<Columns<'a>, Box<Diagnostic>> {
        let first_line = line_of(source, 1);
        let Shape::Record(parts) = &self.shape else {
            let named = headings.iter().position(|heading| heading.name == name);
            return match (named, headings.len()) {
                (Some(index), _) => Ok(Columns::Values(&self.shape, index)),
                (None, 1) => Ok(Columns::Values(&self.shape, 0)),
                (None, count) => {
                    let message = format!("none of the {count} columns is called `{name}`");
                    Err(Box::new(
                        Diagnostic::error(Code::FaultyInput, &first_line, message).expected(format!("`{name} [unit]`")),
                    ))
                }
            };
        };
        let mut found = Vec::new();
        for (index, heading) in headings.iter().enumerate() {
            if let Some((key, part)) = parts.get_key_value(&heading.name) {
                if found.iter().any(|(other, ..): &(&String, &Part, usize)| *other == key) {
                    let message = format!("two columns are called `{key}`");
                    return Err(Box::new(Diagnostic::error(Code::FaultyInput, &first_line, message)));
                }
                found.push((key, part, index));
            } else if let Some(near) = nearest(&heading.name, parts.keys().map(String::as_str)) {
                let message = format!("the column `{}` is not an entry of `{name}`", heading.name);
                let problem = Diagnostic::error(Code::FaultyInput, &first_line, message);
                return Err(Box::new(problem.help(format!("did you mean `{near}`?"))));
            }
        }
        if let Some((absent, _)) =
            parts.iter().find(|(key, part)| !part.optional && !found.iter().any(|(known, ..)| known == key))
        {
            let message = format!("no column is called `{absent}`");
            let names = parts.keys().map(String::as_str).collect::<Vec<_>>().join(", ");
            return Err(Box::new(Diagnostic::error(Code::FaultyInput, &first_line, message).expected(names)));
        }
        Ok(Columns::Records(found))
    }
}

enum Columns<'a> {
    Values(&'a Shape, usize),
    Records(Vec<(&'a String, &'a Part, usize)>),
}

impl Columns<'_> {
    fn item(
        &self,
        row: &csv::StringRecord,
        headings: &[Heading],
        units: &Units,
        place: &Place,
    ) -> Result<Value, Box<Diagnostic>> {
        let cell = |index: usize, shape: &Shape| {
            let text = row.get(index).unwrap_or_default();
            if text.trim() == UNKNOWN {
                return Ok(Value::Unknown);
            }
            // The cell is quoted in the message; where in its line it stands, the reader does not tell.
            shape.read_text(text, headings[index].unit.as_deref(), units, place).map_err(|mut problem| {
                problem.place = place.clone();
                problem.message = format!("{}: {}", headings[index].name, problem.message);
                problem
            })
        };
        match self {
            Self::Values(shape, index) => cell(*index, shape),
            Self::Records(parts) => {
                let mut fields = IndexMap::new();
                for (key, part, index) in parts {
                    if !(part.optional && row.get(*index).is_some_and(|text| text.trim().is_empty())) {
                        fields.insert((*key).clone(), cell(*index, &part.shape)?);
                    }
                }
                Ok(Value::Record(fields))
            }
        }
    }
}

fn unreadable(fault: &csv::Error, source: &Arc<Source>) -> Box<Diagnostic> {
    let line = fault.position().map_or(1, csv::Position::line);
    Box::new(Diagnostic::error(Code::NotText, &line_of(source, line), "the file is not a CSV file in UTF-8"))
}

fn line_of(source: &Arc<Source>, line: u64) -> Place {
    let before = source.text.split_inclusive('\n').take(line.saturating_sub(1) as usize).map(str::len).sum();
    let length = source.text[before..].lines().next().map_or(0, str::len);
    Place::new(source, before..before + length)
}
