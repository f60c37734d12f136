//! A log that is followed: bytes in, and what a job hears of it out.

use std::sync::Arc;

use indexmap::IndexMap;

use super::follow::Message;
use super::raw::Raw;
use super::watch::{Limits, Reading, Watch};
use standpipe_job::plan::Plan;
use standpipe_job::said::StreamNote;
use standpipe_job::{PromptField, ReadFrom, StreamStatus, TakenFrom};
use standpipe_log::{Choices, LogReader, Row, Trouble, Understood, Wanted, WantedColumn};
use standpipe_procedure::FieldKind;
use standpipe_quantity::{Quantity, Scale, Units};

/// One column that is followed: the sample of the steps that await it.
#[derive(Clone, Debug)]
pub struct Column {
    pub name: String,
    pub quantity: String,
    /// Kind of instrument that it is read with.
    pub with: Option<String>,
    pub limits: Limits,
}

/// What became of a stream, in the order in which it came.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// A reading that can be relied on.
    Sample {
        name: String,
        value: Quantity,
    },
    StreamStatus {
        name: String,
        turn: StreamStatus,
        note: StreamNote,
    },
}

/// What the steps of a plan await.
pub fn columns(plan: &Plan) -> Vec<Column> {
    let mut found: Vec<Column> = Vec::new();
    for step in plan
        .procedures
        .values()
        .flat_map(standpipe_procedure::Procedure::all_steps)
        .filter(|step| step.kind.word() == "await")
    {
        for field in step.kind.fields() {
            let FieldKind::Quantity(quantity) = &field.kind else { continue };
            if found.iter().any(|column| column.name == field.name.value) {
                continue;
            }
            let with = field.instrument.as_ref().map(|kind| kind.value.clone());
            let limits = limits(plan, with.as_deref());
            found.push(Column { name: field.name.value.clone(), quantity: quantity.clone(), with, limits });
        }
    }
    found
}

/// The column that a question can be answered from: its own, or one of the same quantity read with the same kind of
/// instrument.
pub fn column_of<'a>(columns: &'a [Column], field: &PromptField) -> Option<&'a Column> {
    let own = columns.iter().find(|column| column.name == field.name);
    own.or_else(|| {
        let same = |column: &&Column| {
            column.with.is_some()
                && column.with == field.with
                && field.quantity.as_deref() == Some(column.quantity.as_str())
        };
        columns.iter().find(same)
    })
}

/// When a reading by this kind of instrument is stale or frozen. Of several instruments of a kind the strictest counts.
pub fn limits(plan: &Plan, with: Option<&str>) -> Limits {
    let instruments = with.map(|kind| plan.shop.instruments_of(kind)).unwrap_or_default();
    let least = |of: fn(&standpipe_library::Instrument) -> Option<f64>| {
        let all = instruments.iter().filter_map(|id| of(plan.shop.instruments.get(*id)?));
        all.fold(None, |least: Option<f64>, one| Some(least.map_or(one, |least| least.min(one))))
    };
    Limits { stale: least(|one| one.stale_after), frozen: least(|one| one.frozen_after) }
}

pub(super) const TIME_WORDS: [&str; 5] = ["time", "elapsed", "seconds", "timestamp", "t"];

/// What helps where rows are not understood: instruments of which the shop says how they write.
pub fn mapped(plan: &Plan) -> Option<String> {
    let known = plan.shop.instruments.iter().filter(|(_, instrument)| instrument.log.is_some());
    let known: Vec<String> = known.map(|(id, _)| format!("`--as {id}`")).collect();
    (!known.is_empty()).then(|| format!("{} reads it as the shop says that it writes", known.join(" or ")))
}

/// How such columns are recognised: by the words of their own names, unless a person says which it is.
pub fn wanted(columns: &[Column]) -> Wanted {
    let time = TIME_WORDS.map(str::to_owned).to_vec();
    let columns = columns.iter().map(|column| {
        let words = vec![column.name.replace('_', " ")];
        let wanted = WantedColumn {
            title: column.name.replace('_', " "),
            quantity: Some(column.quantity.clone()),
            words,
            not: Vec::new(),
            required: true,
            entered: None,
            stands_for: IndexMap::new(),
        };
        (column.name.clone(), wanted)
    });
    Wanted { time, columns: columns.collect() }
}

/// One row: the reader's own time, and a value in base units for each column.
#[derive(Clone, Debug)]
pub struct OneRow {
    pub at: f64,
    pub values: Vec<f64>,
}

pub struct Live {
    pub columns: Vec<Column>,
    watches: IndexMap<String, Watch>,
    wanted: Arc<Wanted>,
    choices: Choices,
    units: Arc<Units>,
    reader: LogReader,
    raw: Option<Raw>,
    /// Why nothing more can be read from it.
    pub trouble: Option<Trouble>,
    /// It ended, or broke off.
    pub over: bool,
}

impl Live {
    /// `raw`: where its bytes are kept; none where they lie in a file that can be kept as it is.
    pub fn new(columns: Vec<Column>, wanted: Wanted, choices: Choices, units: Arc<Units>, raw: Option<Raw>) -> Self {
        let wanted = Arc::new(wanted);
        Self {
            watches: columns.iter().map(|column| (column.name.clone(), Watch::new(column.limits))).collect(),
            columns,
            reader: LogReader::new(wanted.clone(), choices.clone(), units.clone()),
            wanted,
            choices,
            units,
            raw,
            trouble: None,
            over: false,
        }
    }

    pub fn understood(&self) -> Option<&Understood> {
        self.reader.understood()
    }

    pub fn watch(&self, name: &str) -> Option<&Watch> {
        self.watches.get(name)
    }

    pub fn column_of(&self, field: &PromptField) -> Option<&Column> {
        column_of(&self.columns, field)
    }

    /// The scale of a column, once the log is understood.
    pub fn scale(&self, name: &str) -> Option<&Arc<Scale>> {
        let understood = self.reader.understood()?;
        understood.columns.get(understood.column(name)?)?.scale.as_ref()
    }

    /// The instruments' unit, column and name, to be said when it is first followed.
    pub fn described(&self, name: &str, source: &str, quiet: Option<f64>) -> Option<StreamNote> {
        let understood = self.reader.understood()?;
        let column = understood.columns.get(understood.column(name)?)?;
        Some(StreamNote::From {
            source: source.to_owned(),
            column: column.heading.clone(),
            unit: column.scale.as_ref().map(|scale| scale.symbol().to_string()),
            quiet,
        })
    }

    /// A message of the one who reads, at a time of the one who follows.
    pub fn take(&mut self, message: Message, now: f64) -> Vec<Heard> {
        match message {
            Message::History(bytes) => self.bytes(&bytes, now, true),
            Message::Bytes(bytes) => self.bytes(&bytes, now, false),
            Message::Anew => {
                self.reader = LogReader::new(self.wanted.clone(), self.choices.clone(), self.units.clone());
                self.trouble = None;
                self.watches.values_mut().for_each(Watch::begin_anew);
                if let Some(raw) = &mut self.raw {
                    raw.anew();
                }
                self.turn(StreamStatus::Stale, &StreamNote::Replaced)
            }
            Message::Over => self.end(StreamNote::NoMoreRows),
            Message::Failed(why) => self.end(StreamNote::Failed(why)),
        }
    }

    /// Everything that is followed ends here.
    pub fn end(&mut self, why: StreamNote) -> Vec<Heard> {
        if std::mem::replace(&mut self.over, true) {
            return Vec::new();
        }
        self.watches.values_mut().for_each(Watch::over);
        self.turn(StreamStatus::Over, &why)
    }

    fn turn(&self, turn: StreamStatus, note: &StreamNote) -> Vec<Heard> {
        let all = self.watches.keys();
        all.map(|name| Heard::StreamStatus { name: name.clone(), turn, note: note.clone() }).collect()
    }

    /// The rows that complete with these bytes; `last`: no more will come.
    pub fn rows(&mut self, bytes: &[u8], last: bool) -> Vec<OneRow> {
        let mut rows = Vec::new();
        if self.trouble.is_some() {
            return rows;
        }
        let mut each = |row: Row<'_>| rows.push(OneRow { at: row.at, values: row.values.to_vec() });
        let read = self.reader.push(bytes, &mut each);
        let read = read.and_then(|()| if last { self.reader.finish(&mut each) } else { Ok(()) });
        self.trouble = read.err();
        rows
    }

    /// As [`Live::rows`], and keeps the bytes.
    pub fn keep_rows(&mut self, bytes: &[u8], last: bool) -> std::io::Result<Vec<OneRow>> {
        if let Some(raw) = &mut self.raw {
            raw.write(bytes)?;
        }
        Ok(self.rows(bytes, last))
    }

    /// A row that came at this time.
    pub fn row(&mut self, row: &OneRow, seen: f64, history: bool) -> Vec<Heard> {
        let mut heard = Vec::new();
        let Some(understood) = self.reader.understood() else { return heard };
        for (column, value) in understood.columns.iter().zip(&row.values) {
            let (Some(watch), Some(scale)) = (self.watches.get_mut(&column.name), &column.scale) else { continue };
            let name = &column.name;
            let turned = watch.row(Reading { at: row.at, seen, value: *value }, history);
            heard.extend(turned.map(|(turn, note)| Heard::StreamStatus { name: name.clone(), turn, note }));
            if !history && watch.now(seen).is_ok_and(|reading| reading.at == row.at) {
                heard.push(Heard::Sample { name: name.clone(), value: scale.quantity(*value) });
            }
        }
        heard
    }

    fn bytes(&mut self, bytes: &[u8], now: f64, history: bool) -> Vec<Heard> {
        if let Some(raw) = &mut self.raw
            && let Err(fault) = raw.write(bytes)
        {
            return self.end(StreamNote::Failed(format!("its rows can't be kept: {fault}")));
        }
        if self.trouble.is_some() {
            return Vec::new();
        }
        let mut rows = Vec::new();
        let mut each = |row: Row<'_>| rows.push(OneRow { at: row.at, values: row.values.to_vec() });
        let read = self.reader.push(bytes, &mut each);
        let read = match self.reader.understood() {
            None => read.and_then(|()| self.reader.settle(&mut each).map(|_| ())),
            Some(_) => read,
        };
        self.trouble = read.err();
        rows.iter().flat_map(|row| self.row(row, now, history)).collect()
    }

    pub fn tick(&mut self, now: f64) -> Vec<Heard> {
        let turned = self.watches.iter_mut().filter_map(|(name, watch)| {
            let (turn, note) = watch.tick(now)?;
            Some(Heard::StreamStatus { name: name.clone(), turn, note })
        });
        turned.collect()
    }

    /// What has come so far, and how it was read; none where nothing was kept.
    pub fn read_from(&self, values: IndexMap<String, TakenFrom>) -> std::io::Result<Option<ReadFrom>> {
        let (Some(raw), Some(understood)) = (&self.raw, self.understood()) else { return Ok(None) };
        let said = understood.as_said(|name| values.values().any(|taken| taken.column == name)).written();
        let rows = raw.so_far()?;
        Ok(rows.map(|rows| ReadFrom { rows, log: false, said, zero: None, values }))
    }
}
