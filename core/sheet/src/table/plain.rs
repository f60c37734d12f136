//! Rows of plain numbers: read, worked out and written without values in between.

use std::io::Write;
use std::ops::Range;

use indexmap::IndexMap;

use super::chunk::{Cells, Chunk};
use super::lines::Lines;
use super::{Column, Table};
use crate::direct::{Came, Direct, Way};
use crate::{Places, digits};
use standpipe_script::{LANES, Scripts};

/// How often a row is tried as a sample before plain rows are given up.
const TRIES: u32 = 8;

/// Plain rows of one table, worked out by one thread.
#[derive(Default)]
pub(super) struct Plain {
    tries: u32,
    ready: Option<Ready>,
}

struct Ready {
    direct: Direct,
    /// Of each column, where it goes; `None` for one that is carried along.
    ways: Vec<Option<Way>>,
    /// The columns in which a plain row has numbers: digits, a point, a minus.
    numbers: Vec<bool>,
    scratch: Vec<u8>,
}

impl Plain {
    /// Works out as many rows as are done at once, or fewer; gives the number of each one's result, and nothing where the
    /// longer way has to be taken.
    pub fn work_out(
        &mut self,
        table: &Table<'_>,
        scripts: &Scripts,
        chunk: &Chunk,
        rows: Range<usize>,
    ) -> [Option<usize>; LANES] {
        let none = [None; LANES];
        if table.uncertain.is_some() {
            return none;
        }
        for row in rows.clone() {
            if self.ready.is_some() || self.tries == TRIES {
                break;
            }
            self.tries += 1;
            self.ready = Ready::new(table, scripts, &chunk.row(row).0);
        }
        let Some(ready) = &mut self.ready else { return none };
        let mut fits = [false; LANES];
        for (lane, row) in rows.enumerate() {
            fits[lane] = ready.set(table, lane, &chunk.row(row).0).is_some();
        }
        if !fits.contains(&true) {
            return none;
        }
        let came = ready.direct.run();
        std::array::from_fn(|lane| came[lane].filter(|_| fits[lane]))
    }

    /// Writes the cells of a row that was worked out; says whether there were warnings.
    pub fn write(&mut self, lane: usize, result: usize, cells: &Cells<'_>, lines: &mut Lines) -> bool {
        self.ready.as_mut().is_some_and(|ready| ready.write(lane, result, cells, lines))
    }
}

impl Ready {
    /// From a row that is to stand for all.
    fn new(table: &Table<'_>, scripts: &Scripts, cells: &Cells<'_>) -> Option<Self> {
        if cells.len() != table.columns.len() {
            return None;
        }
        let mut inputs: IndexMap<_, _> = table.fixed.clone();
        for (column, cell) in table.columns.iter().zip(cells.iter()) {
            let Column::Input { name, scale, .. } = column else { continue };
            let text = std::str::from_utf8(cell).ok()?.trim();
            let value = match scale {
                Some(scale) => scale.read(text)?,
                None if text.is_empty() => return None,
                None => standpipe_quantity::value::Value::Text(text.to_owned()),
            };
            inputs.insert(name.clone(), value);
        }
        let checked = table.sheet.check_inputs(inputs, table.units, &Places::default()).ok()?;
        // What holds for all rows would be said in every one.
        if !checked.warnings.is_empty() {
            return None;
        }
        let direct = table.sheet.direct(scripts, &checked.values)?;
        let mut ways = Vec::new();
        for column in &table.columns {
            let Column::Input { name, scale, .. } = column else {
                ways.push(None);
                continue;
            };
            let way = table.sheet.inputs.get(name)?.way(name, &direct, table.units)?;
            if !direct.is_written(&way, scale.as_ref().and_then(|scale| scale.written_in())) {
                return None;
            }
            ways.push(Some(way));
        }
        let numbers =
            table.columns.iter().map(|column| matches!(column, Column::Input { scale: Some(_), .. })).collect();
        Some(Self { direct, ways, numbers, scratch: Vec::new() })
    }

    /// Sets the inputs of a row; nothing where it is not plain.
    fn set(&mut self, table: &Table<'_>, lane: usize, cells: &Cells<'_>) -> Option<()> {
        if cells.len() != table.columns.len() {
            return None;
        }
        for ((column, way), cell) in table.columns.iter().zip(&self.ways).zip(cells.iter()) {
            let (Column::Input { scale, .. }, Some(way)) = (column, way) else { continue };
            let fits = match scale {
                Some(scale) => {
                    let (si, value) = scale.numbers(without_spaces(cell))?;
                    self.direct.set(lane, way, si, scale.written_in().map(|_| value))
                }
                None => self.direct.has_text(way, std::str::from_utf8(cell).ok()?.trim()),
            };
            if !fits {
                return None;
            }
        }
        Some(())
    }

    fn write(&mut self, lane: usize, result: usize, cells: &Cells<'_>, lines: &mut Lines) -> bool {
        for (cell, is_number) in cells.iter().zip(&self.numbers) {
            if *is_number { lines.plain(cell) } else { lines.cell(cell) }
        }
        let scratch = &mut self.scratch;
        self.direct.each(lane, result, |_, came| {
            scratch.clear();
            match came {
                Came::Nothing => {}
                Came::Number { shown, .. } => digits(shown, scratch),
                Came::Ends(low, high) => {
                    digits(low, scratch);
                    scratch.extend_from_slice(b"..");
                    digits(high, scratch);
                }
                Came::Text(text) => return lines.cell(text.as_bytes()),
                Came::Truth(truth) => {
                    let _ = write!(scratch, "{truth}");
                }
            }
            lines.plain(scratch);
        });
        scratch.clear();
        for (index, warning) in self.direct.warnings(lane, result).enumerate() {
            if index > 0 {
                scratch.extend_from_slice(b"; ");
            }
            scratch.extend_from_slice(warning.as_bytes());
        }
        lines.cell(scratch);
        lines.cell(b"");
        lines.end();
        self.direct.warnings(lane, result).next().is_some()
    }
}

/// Nothing else around a number is left out: the end of a line in a cell must come out in quotes.
fn without_spaces(mut cell: &[u8]) -> &[u8] {
    while let [b' ', rest @ ..] | [rest @ .., b' '] = cell {
        cell = rest;
    }
    cell
}
