//! What was met on the way through a log.

/// Something that happened so often, first in this line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct First {
    pub count: u64,
    pub line: u64,
}

impl First {
    pub(super) fn add(&mut self, line: u64) {
        if self.count == 0 {
            self.line = line;
        }
        self.count += 1;
    }
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    /// Rows with a time.
    pub rows: u64,
    /// Rows with another number of cells than the heading; left out.
    pub odd: First,
    /// Rows whose time can't be read; left out.
    pub timeless: First,
    /// Rows earlier than the one before; left out.
    pub backwards: First,
    /// By how many seconds the first of these goes back.
    pub back_by: f64,
    /// Rows with the time of the one before.
    pub repeated: First,
    /// Cells of each column that hold neither a value nor a sign for none.
    pub unreadable: Vec<First>,
    /// Cells of each column with a value.
    pub filled: Vec<u64>,
    /// Seconds of the first and the last row.
    pub first: Option<f64>,
    pub last: Option<f64>,
    /// The last line does not end; it is left out, since its last number may be cut.
    pub torn: bool,
}
