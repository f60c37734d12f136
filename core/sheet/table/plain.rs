//! Rows of plain numbers: read, worked out and written without values in between.

use std::io::Write;

use csv::{ByteRecord, Writer};
use indexmap::IndexMap;

use super::{Column, Table};
use crate::script::Scripts;
use crate::sheet::direct::{Came, Direct, Way};
use crate::sheet::{Places, digits};

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
    scratch: Vec<u8>,
}

impl Plain {
    /// Works out a row and writes its cells; false, and nothing written, where the longer way has to be taken. Says whether
    /// there were warnings.
    pub fn row(
        &mut self,
        table: &Table<'_>,
        scripts: &Scripts,
        cells: &ByteRecord,
        writer: &mut Writer<Vec<u8>>,
    ) -> Option<bool> {
        if table.uncertain.is_some() || cells.len() != table.columns.len() {
            return None;
        }
        if self.ready.is_none() && self.tries < TRIES {
            self.tries += 1;
            self.ready = Ready::new(table, scripts, cells);
        }
        self.ready.as_mut()?.row(table, cells, writer)
    }
}

impl Ready {
    /// From a row that is to stand for all.
    fn new(table: &Table<'_>, scripts: &Scripts, cells: &ByteRecord) -> Option<Self> {
        let mut inputs: IndexMap<_, _> = table.fixed.clone();
        for (column, cell) in table.columns.iter().zip(cells) {
            let Column::Input { name, scale, .. } = column else { continue };
            let text = std::str::from_utf8(cell).ok()?.trim();
            let value = match scale {
                Some(scale) => scale.read(text)?,
                None if text.is_empty() => return None,
                None => crate::value::Value::Text(text.to_owned()),
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
        Some(Self { direct, ways, scratch: Vec::new() })
    }

    fn row(&mut self, table: &Table<'_>, cells: &ByteRecord, writer: &mut Writer<Vec<u8>>) -> Option<bool> {
        for ((column, way), cell) in table.columns.iter().zip(&self.ways).zip(cells) {
            let (Column::Input { scale, .. }, Some(way)) = (column, way) else { continue };
            let text = std::str::from_utf8(cell).ok()?.trim();
            let fits = match scale {
                Some(scale) => {
                    let (si, value) = scale.numbers(text)?;
                    self.direct.set(way, si, scale.written_in().map(|_| value))
                }
                None => self.direct.has_text(way, text),
            };
            if !fits {
                return None;
            }
        }
        let result = self.direct.run()?;
        for cell in cells {
            let _ = writer.write_field(cell);
        }
        let scratch = &mut self.scratch;
        self.direct.each(result, |_, came| {
            scratch.clear();
            match came {
                Came::Nothing => {}
                Came::Number { shown, .. } => digits(shown, scratch),
                Came::Ends(low, high) => {
                    digits(low, scratch);
                    scratch.extend_from_slice(b"..");
                    digits(high, scratch);
                }
                Came::Text(text) => scratch.extend_from_slice(text.as_bytes()),
                Came::Truth(truth) => {
                    let _ = write!(scratch, "{truth}");
                }
            }
            let _ = writer.write_field(&*scratch);
        });
        scratch.clear();
        for (index, warning) in self.direct.warnings(result).enumerate() {
            if index > 0 {
                scratch.extend_from_slice(b"; ");
            }
            scratch.extend_from_slice(warning.as_bytes());
        }
        let _ = writer.write_field(&*scratch);
        let warned = self.direct.warnings(result).next().is_some();
        let _ = writer.write_field(b"");
        let _ = writer.write_record(None::<&[u8]>);
        Some(warned)
    }
}
