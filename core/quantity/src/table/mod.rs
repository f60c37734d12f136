//! Tables: CSV files with a unit in the heading of every column of numbers, and a source for every row.

mod cells;
mod read;

#[cfg(test)]
mod tests;

use indexmap::IndexMap;

use crate::value::Value;
use crate::{Name, close};
use standpipe_diagnostic::source::Place;

#[derive(Clone, Debug)]
pub struct Table {
    pub id: String,
    pub title: Option<String>,
    pub invented: bool,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
    pub place: Place,
}

/// `depth [mm]` is a column of quantities, `ratio [1]` one of numbers, `name` one of texts.
#[derive(Clone, Debug)]
pub struct Column {
    /// As scripts see it.
    pub name: String,
    pub unit: Option<String>,
    /// The quantity of the unit, if it is a unit of one alone.
    pub quantity: Option<Name>,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct Row {
    /// One for each column; a cell without text is unknown.
    pub values: Vec<Value>,
    /// Places of the values.
    pub places: Vec<Place>,
    /// Where the row is from: its own cell, or what the file says of all.
    pub source: String,
}

impl Table {
    fn index(&self, column: &str) -> Option<usize> {
        self.columns.iter().position(|known| known.name == column)
    }

    /// The value in a row, counted from 0; `None` where there is no such row or column.
    pub fn value(&self, row: usize, column: &str) -> Option<&Value> {
        self.rows.get(row)?.values.get(self.index(column)?)
    }

    /// All values of a column.
    pub fn column(&self, column: &str) -> Option<Vec<&Value>> {
        let index = self.index(column)?;
        Some(self.rows.iter().filter_map(|row| row.values.get(index)).collect())
    }

    /// The rows in which all these columns have just these values. Unknown equals nothing.
    pub fn find(&self, wanted: &[(&str, &Value)]) -> Vec<usize> {
        let fits = |row: &usize| {
            wanted.iter().all(|(column, value)| self.value(*row, column).is_some_and(|own| same(own, value)))
        };
        (0..self.rows.len()).filter(fits).collect()
    }

    /// A row as a record, its source left out.
    pub fn record(&self, row: usize) -> Option<Value> {
        let row = self.rows.get(row)?;
        let names = self.columns.iter().map(|column| column.name.clone());
        Some(Value::Record(names.zip(row.values.iter().cloned()).collect::<IndexMap<_, _>>()))
    }

    /// All rows as records, as a script sees them.
    pub fn records(&self) -> Value {
        Value::List((0..self.rows.len()).filter_map(|row| self.record(row)).collect())
    }
}

fn same(own: &Value, wanted: &Value) -> bool {
    match (own, wanted) {
        (Value::Quantity(a), Value::Quantity(b)) => {
            a.dimension == b.dimension && a.point == b.point && close(a.si, b.si)
        }
        (Value::Number(a), Value::Number(b)) => close(*a, *b),
        // A key such as `12` in a column of texts.
        (Value::Text(text), Value::Number(number)) | (Value::Number(number), Value::Text(text)) => {
            text.parse::<f64>().is_ok_and(|text| close(text, *number))
        }
        (Value::Text(a), Value::Text(b)) => a == b,
        (Value::Truth(a), Value::Truth(b)) => a == b,
        (Value::Range(a, b), Value::Range(c, d)) => a == c && b == d,
        _ => false,
    }
}
