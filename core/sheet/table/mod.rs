//! A sheet over the rows of a table: one row in, one row out, in order, however long the table is.

mod columns;
mod row;
mod stream;

use indexmap::IndexMap;

use super::Sheet;
use crate::quantity::{Scale, Units};
use crate::value::Value;

pub use stream::{Batch, Opened, compute};

/// What each column means, and what holds for all rows.
pub struct Table<'a> {
    sheet: &'a Sheet,
    units: &'a Units,
    /// One for each column of the table as it came.
    columns: Vec<Column>,
    /// Headings of the table that comes out.
    pub headings: Vec<String>,
    fixed: IndexMap<String, Value>,
    separator: u8,
}

enum Column {
    Input {
        name: String,
        unit: Option<String>,
        scale: Option<Scale>,
    },
    /// Not the sheet's: it is handed on as it is.
    Carried,
}

/// The columns behind those of the sheet.
pub const WARNINGS: &str = "warnings";
pub const ERROR: &str = "error";
