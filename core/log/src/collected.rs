//! All that a log holds, as series.

use std::io::Read;
use std::sync::Arc;

use indexmap::IndexMap;

use super::question::Trouble;
use super::reader::LogReader;
use super::tally::Tally;
use super::understood::Understood;
use super::{Choices, Wanted};
use standpipe_quantity::Units;
use standpipe_quantity::series::{Kind, Series};

const CHUNK: usize = 256 * 1024;

/// A finished log.
pub struct Collected {
    pub understood: Understood,
    pub tally: Tally,
    pub series: IndexMap<String, Arc<Series>>,
    /// What columns of words say that stands for nothing known.
    pub strange: IndexMap<String, Vec<String>>,
}

/// Why a log was not read to its end.
pub enum Unread {
    Trouble(Trouble),
    File(std::io::Error),
}

impl Unread {
    /// In a few words; `what`: what was to be read.
    pub fn words(&self, what: &str) -> String {
        match self {
            Unread::Trouble(trouble) => trouble.words(what),
            Unread::File(fault) => fault.to_string(),
        }
    }
}

impl Collected {
    pub fn read(
        mut from: impl Read,
        wanted: &Arc<Wanted>,
        choices: Choices,
        units: &Arc<Units>,
    ) -> Result<Self, Unread> {
        let mut reader = LogReader::new(wanted.clone(), choices, units.clone());
        let mut columns: Vec<Series> = Vec::new();
        let mut chunk = vec![0; CHUNK];
        let mut each = |row: super::Row<'_>| {
            while columns.len() < row.values.len() {
                columns.push(Series::new("", Kind::Words(Vec::new())));
            }
            for (series, value) in columns.iter_mut().zip(row.values) {
                series.push(row.at, *value);
            }
        };
        loop {
            let count = from.read(&mut chunk).map_err(Unread::File)?;
            if count == 0 {
                break;
            }
            reader.push(&chunk[..count], &mut each).map_err(Unread::Trouble)?;
        }
        reader.finish(&mut each).map_err(Unread::Trouble)?;
        let tally = reader.tally();
        let Some(understood) = reader.understood().cloned() else {
            return Err(Unread::Trouble(Trouble::unusable(1, "it is empty", "export it again")));
        };
        let (mut series, mut strange) = (IndexMap::new(), IndexMap::new());
        let mut columns = columns.into_iter();
        for (index, column) in understood.columns.iter().enumerate() {
            let words = reader.words(index).to_vec();
            let mut one = columns.next().unwrap_or_else(|| Series::new("", Kind::Words(Vec::new())));
            one.name.clone_from(&column.name);
            one.kind = match &column.scale {
                Some(scale) => Kind::Measured(scale.clone()),
                None => {
                    let known: Vec<&String> = column.stands_for.values().collect();
                    let others: Vec<String> = words.iter().filter(|word| !known.contains(word)).cloned().collect();
                    if !others.is_empty() {
                        strange.insert(column.name.clone(), others);
                    }
                    Kind::Words(words)
                }
            };
            // A column of nothing but blanks shows nothing.
            if !one.is_empty() {
                series.insert(column.name.clone(), Arc::new(one));
            }
        }
        Ok(Self { understood, tally, series, strange })
    }
}
