//! How a log is read, to be said before it is used.

use std::sync::Arc;

use indexmap::IndexMap;
use jiff::civil::Date;

use super::{Choices, DecimalSign, Encoding, TimeForm};
use standpipe_quantity::Scale;

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

    /// The same said in full, so that it is read alike wherever nobody knows words of headings. `of`: which columns.
    pub fn as_said(&self, of: impl Fn(&str) -> bool) -> Choices {
        let number = |index: usize| format!("#{}", index + 1);
        let mut said = Choices {
            decimal: self.decimal,
            delimiter: Some(self.delimiter),
            encoding: Some(self.encoding),
            time: Some(self.time.form),
            ..Choices::default()
        };
        said.columns.insert("time".to_owned(), number(self.time.index));
        said.units.extend(self.time.unit.as_ref().map(|(unit, _)| ("time".to_owned(), unit.clone())));
        for column in self.columns.iter().filter(|column| of(&column.name)) {
            said.columns.insert(column.name.clone(), number(column.index));
            let unit = column.scale.as_ref().map(|scale| match &**scale.symbol() {
                "" => "1".to_owned(),
                symbol => symbol.to_owned(),
            });
            said.units.extend(unit.map(|unit| (column.name.clone(), unit)));
        }
        said
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
