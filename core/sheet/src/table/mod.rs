//! A sheet over the rows of a table: one row in, one row out, in order, however long the table is.

mod chunk;
mod columns;
mod lines;
mod row;
mod stream;

use indexmap::IndexMap;

use super::uncertainty::{Propagated, Spread};
use super::{Outcome, Sheet};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Scale, Units};

use lines::Lines;
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
    uncertain: Option<Uncertain>,
}

/// Of a table whose values may be off.
#[derive(Default)]
pub struct Uncertain {
    /// Asked for even where neither `spreads` nor a column says how far a value may be off.
    pub wanted: bool,
    /// How far those may be off that are given for all rows.
    pub spreads: IndexMap<String, Spread>,
    /// The same for every row, so that each comes out as it would alone.
    pub seed: u64,
}

/// What became of a row.
struct Row {
    outcome: Outcome,
    found: Option<Propagated>,
}

enum Column {
    Input {
        name: String,
        unit: Option<String>,
        scale: Option<Scale>,
    },
    /// Standard uncertainties of an input, `u(NAME) [unit]`.
    Standard {
        name: String,
        /// What 1 in its unit is in base units.
        factor: f64,
    },
    /// Not the sheet's: it is handed on as it is.
    Carried,
}

impl Table<'_> {
    /// The first line of the table that comes out.
    pub fn heading_line(&self) -> Vec<u8> {
        let mut line = Lines::new(self.separator, 0);
        self.headings.iter().for_each(|heading| line.cell(heading.as_bytes()));
        line.end();
        line.text
    }
}

/// The columns behind those of the sheet.
pub use standpipe_script::WARNINGS;
/// The column with what is wrong with a row.
pub const ERROR: &str = "error";
