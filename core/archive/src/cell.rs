//! What stands in one column of one row, and the columns of a value.

use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

use crate::hide::{Hide, Said};

#[derive(Clone, Debug, Default, PartialEq)]
pub enum Cell {
    #[default]
    Empty,
    Text(String),
    Whole(i64),
    Number(f64),
    Truth(bool),
    Time(i64),
}

pub type Row = Vec<Cell>;

impl Cell {
    /// Empty where there is none.
    pub fn into_text(self) -> String {
        if let Cell::Text(text) = self { text } else { String::new() }
    }

    pub fn text(&self) -> Option<&str> {
        if let Cell::Text(text) = self { Some(text) } else { None }
    }

    pub fn whole(&self) -> Option<u64> {
        if let Cell::Whole(number) = self { u64::try_from(*number).ok() } else { None }
    }

    pub fn number(&self) -> Option<f64> {
        if let Cell::Number(number) = self { Some(*number) } else { None }
    }

    pub fn is_true(&self) -> bool {
        *self == Cell::Truth(true)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Cell::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Cell::Text(text)
    }
}

impl From<bool> for Cell {
    fn from(truth: bool) -> Self {
        Cell::Truth(truth)
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Cell::Number(number)
    }
}

impl From<u64> for Cell {
    fn from(number: u64) -> Self {
        // No journal has so many events that this would be cut.
        Cell::Whole(i64::try_from(number).unwrap_or(i64::MAX))
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(some: Option<T>) -> Self {
        some.map_or(Cell::Empty, Into::into)
    }
}

/// A value, or a part of a list or record, by the name it has: `strength.high` or `passes.2`.
pub struct Part {
    pub name: String,
    /// The quantity that it is, where it is one.
    pub quantity: Option<Quantity>,
    cells: [Cell; 10],
}

impl Part {
    fn new(name: &str, kind: &str) -> Self {
        let mut cells: [Cell; 10] = Default::default();
        cells[0] = kind.into();
        Self { name: name.to_owned(), quantity: None, cells }
    }

    fn number(name: &str, number: f64) -> Self {
        let mut part = Self::new(name, "number");
        part.cells[2] = number.into();
        part
    }

    fn quantity(name: &str, kind: &str, quantity: &Quantity) -> Self {
        let mut part = Self::new(name, kind);
        let written = quantity.written.as_ref();
        part.cells[2] = quantity.si.into();
        part.cells[3] = quantity.of.as_ref().map(|of| of.to_string()).into();
        part.cells[4] = quantity.dimension.to_string().into();
        part.cells[5] = quantity.point.into();
        part.cells[6] = written.map(|written| written.unit.to_string()).into();
        part.cells[7] = written.map(|written| written.value).into();
        part.cells[8] = written.map(|written| u64::from(written.decimals)).into();
        part.quantity = Some(quantity.clone());
        part
    }

    fn text(name: &str, said: Said) -> Self {
        let (kind, text) = match said {
            Said::Kept(text) => ("text", Some(text)),
            Said::Person(hash) => ("person", Some(hash)),
            Said::LeftOut => ("left out", None),
        };
        let mut part = Self::new(name, kind);
        part.cells[9] = text.into();
        part
    }

    /// The columns of a value, in the order of the table.
    pub fn cells(self) -> impl IntoIterator<Item = Cell> {
        self.cells
    }
}

/// The parts of a value, each to be a row.
pub fn parts(name: &str, value: &Value, hide: &Hide) -> Vec<Part> {
    let mut all = Vec::new();
    add(name, value, hide, &mut all);
    all
}

fn add(name: &str, value: &Value, hide: &Hide, all: &mut Vec<Part>) {
    match value {
        Value::Unknown => all.push(Part::new(name, "unknown")),
        Value::Truth(truth) => {
            let mut part = Part::new(name, "truth");
            part.cells[1] = (*truth).into();
            all.push(part);
        }
        Value::Number(number) => all.push(Part::number(name, *number)),
        Value::Quantity(quantity) => all.push(Part::quantity(name, "quantity", quantity)),
        Value::Range(low, high) => {
            all.push(Part::quantity(&format!("{name}.low"), "low", low));
            all.push(Part::quantity(&format!("{name}.high"), "high", high));
        }
        Value::Text(text) => all.push(Part::text(name, hide.text(name, text))),
        Value::List(list) if list.is_empty() => all.push(Part::new(name, "empty list")),
        Value::List(list) => {
            list.iter().enumerate().for_each(|(index, value)| add(&format!("{name}.{}", index + 1), value, hide, all));
        }
        Value::Record(record) if record.is_empty() => all.push(Part::new(name, "empty record")),
        Value::Record(record) => {
            record.iter().for_each(|(key, value)| add(&format!("{name}.{key}"), value, hide, all));
        }
    }
}
