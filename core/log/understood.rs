//! How a log is read, to be said before it is used.

use std::sync::Arc;

use indexmap::IndexMap;
use jiff::civil::Date;

use super::{DecimalSign, Encoding, TimeForm};
use crate::quantity::Scale;

#[derive(Clone, Debug)]
pub struct Understood {
    pub encoding: Encoding,
    /// A mark of the encoding stands at the beginning.
    pub marked: bool,
    pub delimiter: u8,
    /// None while no number with a sign has come.
    pub decimal: Option<DecimalSign>,
    /// Lines before the heading.
    pub preamble: u64,
    /// Line of the heading; none where there is none.
    pub heading_line: Option<u64>,
    pub units_line: Option<u64>,
    pub data_line: u64,
    /// All headings as written; `#1`, `#2` where there are none.
    pub headings: Vec<String>,
    pub time: TimeRead,
    /// Those of the wanted that are there, in the order of the rows' values.
    pub columns: Vec<ColumnRead>,
}

#[derive(Clone, Debug)]
pub struct TimeRead {
    pub index: usize,
    pub heading: String,
    pub form: TimeForm,
    /// Seconds of one, where it is a number.
    pub unit: Option<(String, f64)>,
    /// The day of second 0, where the log has dates.
    pub day: Option<Date>,
}

#[derive(Clone, Debug)]
pub struct ColumnRead {
    /// What it is: the name of the wanted.
    pub name: String,
    pub index: usize,
    pub heading: String,
    /// None for a column of words.
    pub scale: Option<Arc<Scale>>,
    /// Where the unit is from: `heading`, `units row`, `said`.
    pub unit_from: &'static str,
    pub stands_for: IndexMap<String, String>,
}

impl Understood {
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name == name)
    }

    pub fn delimiter_words(&self) -> &'static str {
        delimiter_words(self.delimiter)
    }
}

pub(super) fn delimiter_words(delimiter: u8) -> &'static str {
    match delimiter {
        b',' => "comma",
        b';' => "semicolon",
        b'\t' => "tab",
        _ => "another sign",
    }
}
