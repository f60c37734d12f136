//! Inputs as people write them on a command line or in a cell.

use std::ops::Range;

use indexmap::IndexMap;

use super::shape::{Misfit, Part, Shape, is_day};
use super::{Input, Output, Sheet};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, nearest};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_yaml::{Kind, Node};

/// What nobody knows is written so, everywhere.
pub(super) const UNKNOWN: &str = "unknown";

impl Input {
    /// Reads an input as written on a command line or in a cell, lists with `;` between their entries; a bare number is in
    /// `bare`, if that is given.
    pub fn read_text(
        &self,
        text: &str,
        bare: Option<&str>,
        units: &Units,
        place: &Place,
    ) -> Result<Value, Box<Diagnostic>> {
        if text.trim() == UNKNOWN {
            return Ok(Value::Unknown);
        }
        self.shape.read_line(self.list, text, bare, units, place)
    }

    /// Reads an input as written in a YAML file, where lists and records may be written out.
    pub fn read_node(&self, node: &Node, units: &Units) -> Result<Value, Box<Diagnostic>> {
        self.shape.read_node(self.list, node, units)
    }
}

impl Output {
    /// Reads a value that is expected of this output, as the sheet would give it.
    pub fn read_node(&self, node: &Node, units: &Units) -> Result<Value, Box<Diagnostic>> {
        let value = self.shape.read_node(self.list, node, units)?;
        // What was read fits, so this only brings it into the form of an output.
        Ok(self.shape.fit_listed(self.list, &value, "the value", units).unwrap_or(value))
    }
}

impl Sheet {
    /// One input by its name, or a message at `place`.
    pub fn input(&self, name: &str, place: &Place) -> Result<&Input, Box<Diagnostic>> {
        self.inputs.get(name).ok_or_else(|| Box::new(self.no_input(name, Some(place))))
    }
}

impl Shape {
    /// Reads what stands in one line.
    pub(super) fn read_line(
        &self,
        list: bool,
        text: &str,
        bare: Option<&str>,
        units: &Units,
        place: &Place,
    ) -> Result<Value, Box<Diagnostic>> {
        if !list {
            return self.read_text(text, bare, units, place);
        }
        let mut items = Vec::new();
        // Only `;` stands between entries: a comma may be the decimal sign of a number.
        for at in split(text, |rest| rest.starts_with(';')) {
            let part = &text[at.clone()];
            if !part.trim().is_empty() {
                items.push(self.read_text(part, bare, units, &place.slice(at))?);
            }
        }
        Ok(Value::List(items))
    }

    pub(super) fn read_node(&self, list: bool, node: &Node, units: &Units) -> Result<Value, Box<Diagnostic>> {
        match (&node.kind, list, self) {
            (Kind::Scalar(scalar), ..) => self.read_line(list, &scalar.text, None, units, &node.place),
            (Kind::List(items), true, _) => {
                let items = items.iter().map(|item| self.read_node(false, item, units));
                items.collect::<Result<Vec<_>, _>>().map(Value::List)
            }
            (Kind::Map(entries), false, Shape::Record(parts)) => {
                let mut record = IndexMap::new();
                for (key, value) in entries {
                    let Some(part) = parts.get(key.as_str()) else {
                        let message = format!("unknown entry `{}`", key.value);
                        let fault =
                            Diagnostic::error(Code::FaultyInput, &key.place, message).expected(self.described());
                        return Err(fault.near(key, parts.keys().map(String::as_str)).into());
                    };
                    record.insert(key.value.clone(), part.shape.read_node(false, value, units)?);
                }
                Ok(Value::Record(record))
            }
            _ => {
                let expected = if list { format!("a list, each {}", self.described()) } else { self.described() };
                let message = format!("found {}", node.described());
                Err(Diagnostic::error(Code::FaultyInput, &node.place, message).expected(expected).into())
            }
        }
    }

    /// Reads it as somebody wrote it.
    pub(super) fn read_text(
        &self,
        text: &str,
        bare: Option<&str>,
        units: &Units,
        place: &Place,
    ) -> Result<Value, Box<Diagnostic>> {
        let refuse = |message: String| {
            Err(Box::new(Diagnostic::error(Code::FaultyInput, place, message).expected(self.described())))
        };
        let read = match self {
            Shape::Quantity(of) => units.read(text, Some(of), bare),
            Shape::Range(of) => {
                let range = units.read_range(text, Some(of), bare);
                if range.is_err() { units.read(text, Some(of), bare).or(range) } else { range }
            }
            Shape::Record(parts) if text.contains('=') => return record(parts, text, units, place),
            Shape::Record(_) => units.read(text, None, bare),
            Shape::Text(_) => Ok(Value::Text(text.trim().to_owned())),
            Shape::Date if is_day(text.trim()) => Ok(Value::Text(text.trim().to_owned())),
            Shape::Date => return refuse(format!("`{}` is not a day of the calendar", text.trim())),
            Shape::Truth => match text.trim() {
                "true" | "yes" => Ok(Value::Truth(true)),
                "false" | "no" => Ok(Value::Truth(false)),
                other => return refuse(format!("`{other}` is neither true nor false")),
            },
        };
        let value = read.map_err(|fault| Box::new(fault.at(place)))?;
        match self.fit(&value, "the value", units) {
            // A range keeps being written as one value; it is widened when the sheet runs.
            Ok(_) => Ok(value),
            Err(Misfit::Wrong(message)) => refuse(message),
            Err(Misfit::Unknown(_)) => Ok(Value::Unknown),
        }
    }
}

/// `volume=6.35 L, at=40 degC`.
fn record(parts: &IndexMap<String, Part>, text: &str, units: &Units, place: &Place) -> Result<Value, Box<Diagnostic>> {
    let mut fields = IndexMap::new();
    for at in split(text, starts_entry) {
        let (entry, place) = (&text[at.clone()], place.slice(at));
        if entry.trim().is_empty() {
            continue;
        }
        let Some((name, value)) = entry.split_once('=') else {
            let message = format!("`{}` does not say which entry it is", entry.trim());
            return Err(Box::new(
                Diagnostic::error(Code::FaultyInput, &place, message).help("write e.g. `volume=6.35 L, at=40 degC`"),
            ));
        };
        let value_at = name.len() + 1..entry.len();
        let name = name.trim();
        let Some(part) = parts.get(name) else {
            let names = parts.keys().map(String::as_str);
            let message = format!("the record has no entry `{name}`");
            let mut problem = Diagnostic::error(Code::FaultyInput, &place, message)
                .expected(names.clone().collect::<Vec<_>>().join(", "));
            problem.help = nearest(name, names).map(|near| format!("did you mean `{near}`?"));
            return Err(Box::new(problem));
        };
        let value = if value.trim() == UNKNOWN {
            Value::Unknown
        } else {
            part.shape.read_text(value, None, units, &place.slice(value_at))?
        };
        if fields.insert(name.to_owned(), value).is_some() {
            let message = format!("the entry `{name}` appears twice");
            return Err(Box::new(Diagnostic::error(Code::FaultyInput, &place, message)));
        }
    }
    let value = Value::Record(fields);
    match Shape::Record(parts.clone()).fit(&value, "the record", units) {
        Err(Misfit::Wrong(message)) => Err(Box::new(Diagnostic::error(Code::FaultyInput, place, message))),
        Ok(_) | Err(Misfit::Unknown(_)) => Ok(value),
    }
}

/// A comma parts entries only before `name=`.
fn starts_entry(rest: &str) -> bool {
    let Some(after) = rest.strip_prefix(',') else { return false };
    let name = after.trim_start();
    let length = name.bytes().take_while(|c| c.is_ascii_alphanumeric() || *c == b'_').count();
    length > 0 && name[length..].trim_start().starts_with('=')
}

/// The stretches of a text between one-byte separators; `parts` sees what follows.
fn split(text: &str, parts: impl Fn(&str) -> bool) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = 0;
    for (index, _) in text.char_indices() {
        if parts(&text[index..]) {
            found.push(start..index);
            start = index + 1;
        }
    }
    found.push(start..text.len());
    found
}
