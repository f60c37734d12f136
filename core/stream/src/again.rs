//! What rows that were kept show at a moment, worked out anew.

use std::io::Read;
use std::sync::Arc;

use indexmap::IndexMap;

use super::watch::{Limits, Reading, Watch};
use standpipe_log::{Choices, Collected, LogReader, Row, Wanted, WantedColumn};
use standpipe_quantity::{Quantity, Scale, Units};

const CHUNK: usize = 64 << 10;

/// One column of rows, as it was read.
pub struct Kept<'a> {
    pub column: &'a str,
    pub quantity: &'a str,
    pub choices: Choices,
    pub units: &'a Arc<Units>,
    pub limits: Limits,
}

impl Kept<'_> {
    fn wanted(&self) -> (Arc<Wanted>, Choices) {
        let wanted = WantedColumn {
            title: self.column.replace('_', " "),
            quantity: Some(self.quantity.to_owned()),
            words: Vec::new(),
            not: Vec::new(),
            required: true,
            entered: None,
            stands_for: IndexMap::new(),
        };
        let columns = IndexMap::from([(self.column.to_owned(), wanted)]);
        let choices = self.choices.clone().only(|name| name == self.column);
        (Arc::new(Wanted { time: Vec::new(), columns }), choices)
    }

    /// All of its rows.
    ///
    /// Errors: rows that are not read as they were.
    pub fn whole(&self, from: impl Read) -> Result<Collected, String> {
        let (wanted, choices) = self.wanted();
        Collected::read(from, &wanted, choices, self.units).map_err(|fault| fault.words("the rows"))
    }

    /// How the readings stand at this second of the rows' own clock: each counts at its own time.
    ///
    /// Errors: rows that are not read as they were.
    pub fn at(&self, from: impl Read, second: f64) -> Result<(Watch, Arc<Scale>), String> {
        let mut watch = Watch::new(self.limits);
        let mut past = false;
        let scale = self.each(from, &mut |row: Row<'_>| {
            // A row counts at its moment to the millisecond.
            let seen = (row.at * 1000.0).round() / 1000.0;
            past |= seen > second;
            if !past && let Some(value) = row.values.first() {
                watch.row(Reading { at: row.at, seen, value: *value }, false);
            }
        })?;
        watch.tick(second);
        Ok((watch, scale))
    }

    /// The readings between two seconds of the rows' own clock, in the order of the rows.
    ///
    /// Errors: rows that are not read as they were.
    pub fn between(&self, from: impl Read, first: f64, last: f64) -> Result<Vec<(f64, Quantity)>, String> {
        let mut found = Vec::new();
        let scale = self.each(from, &mut |row: Row<'_>| {
            let value = row.values.first().filter(|value| value.is_finite() && (first..=last).contains(&row.at));
            found.extend(value.map(|value| (row.at, *value)));
        })?;
        Ok(found.into_iter().map(|(at, value)| (at, scale.quantity(value))).collect())
    }

    fn each(&self, mut from: impl Read, each: &mut dyn FnMut(Row<'_>)) -> Result<Arc<Scale>, String> {
        let (wanted, choices) = self.wanted();
        let mut reader = LogReader::new(wanted, choices, self.units.clone());
        let mut chunk = vec![0; CHUNK];
        loop {
            let got = from.read(&mut chunk).map_err(|fault| fault.to_string())?;
            let read = if got == 0 { reader.finish(&mut *each) } else { reader.push(&chunk[..got], &mut *each) };
            read.map_err(|trouble| trouble.words("the rows"))?;
            if got == 0 {
                break;
            }
        }
        let understood = reader.understood().ok_or("no row is understood")?;
        Ok(understood.columns.first().and_then(|column| column.scale.clone()).ok_or("it has no unit")?)
    }
}

/// A reading as it is entered: in the unit of the reader, with as many decimals as its neighbours show, so that 25.0 among
/// tenths does not look like a whole degree.
pub fn as_typed(units: &Units, scale: &Scale, reading: &Reading, watch: &Watch) -> String {
    let written = |value: f64| {
        let (number, unit) = units.plain(&scale.quantity(value));
        ((number * 1e6).round() / 1e6, unit)
    };
    let (number, unit) = written(reading.value);
    let decimals = |value: f64| written(value).0.to_string().split_once('.').map_or(0, |(_, digits)| digits.len());
    let most = watch.recent().iter().map(|one| decimals(one.value)).max().unwrap_or(0);
    format!("{number:.*} {unit}", most.max(decimals(reading.value))).trim_end().to_owned()
}
