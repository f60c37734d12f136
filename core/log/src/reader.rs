//! Bytes in, rows out.

use std::borrow::Cow;
use std::sync::Arc;

use encoding_rs::Decoder;

use super::clock::Clock;
use super::columns::Finding;
use super::encoding::decode;
use super::number::{self, DecimalSign, Hint, is_absent, trimmed};
use super::question::{Question, Trouble};
use super::rows::{Rows, TooLong};
use super::sniff::{BLOCK, Shape, sniff};
use super::tally::{First, Tally};
use super::understood::Understood;
use super::words::Words;
use super::{Choices, Encoding, Wanted};
use standpipe_quantity::Units;

/// So much is looked at before anything is understood; a stream settles sooner if it is told to.
const HEAD: usize = 64 * 1024;

/// One row of readings.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    pub line: u64,
    /// Seconds since the beginning of the first day, or since the start where the time is elapsed.
    pub at: f64,
    /// For each column that was found, in base units; NaN where there is none. For a column of words, the number of
    /// the word in [`LogReader::words`].
    pub values: &'a [f64],
}

/// Reads one log. Rows go to a function as soon as they are complete.
pub struct LogReader {
    wanted: Arc<Wanted>,
    choices: Choices,
    units: Arc<Units>,
    marked: bool,
    decoder: Option<Decoder>,
    /// What came before anything was understood.
    raw_head: Vec<u8>,
    running: Option<Running>,
}

/// A log that is understood.
struct Running {
    understood: Understood,
    encoding: Encoding,
    clock: Clock,
    decimal: Option<DecimalSign>,
    delimiter: u8,
    rows: Rows,
    width: usize,
    values: Vec<f64>,
    words: Vec<Words>,
    tally: Tally,
}

impl LogReader {
    pub fn new(wanted: Arc<Wanted>, choices: Choices, units: Arc<Units>) -> Self {
        Self { wanted, choices, units, marked: false, decoder: None, raw_head: Vec::new(), running: None }
    }

    /// How it is read; none while too little has come.
    pub fn understood(&self) -> Option<&Understood> {
        self.running.as_ref().map(|running| &running.understood)
    }

    pub fn tally(&self) -> Tally {
        self.running.as_ref().map(|running| running.tally.clone()).unwrap_or_default()
    }

    /// The words of a column, by their numbers in the rows.
    pub fn words(&self, column: usize) -> &[String] {
        self.running.as_ref().and_then(|running| running.words.get(column)).map_or(&[], Words::known)
    }

    pub fn push(&mut self, chunk: &[u8], each: &mut dyn FnMut(Row<'_>)) -> Result<(), Trouble> {
        if self.running.is_some() {
            let decoded = self.decoded(chunk, false);
            return self.run(&decoded, each);
        }
        self.raw_head.extend_from_slice(chunk);
        if self.raw_head.len() >= HEAD { self.understand(true, each) } else { Ok(()) }
    }

    /// Understands a stream by what has come so far; false if that is not enough yet.
    pub fn settle(&mut self, each: &mut dyn FnMut(Row<'_>)) -> Result<bool, Trouble> {
        if self.running.is_none() {
            match self.understand(false, each) {
                // More rows may show what these few do not.
                Err(Trouble::Unusable { .. }) => return Ok(false),
                other => other?,
            }
        }
        Ok(true)
    }

    /// The end of a file. A last line without an end is left out: its last number may be cut.
    pub fn finish(&mut self, each: &mut dyn FnMut(Row<'_>)) -> Result<(), Trouble> {
        if self.running.is_none() {
            self.understand(true, each)?;
        }
        let rest = self.decoded(&[], true);
        self.run(&rest, each)?;
        if let Some(running) = &mut self.running {
            running.tally.torn = running.rows.is_within();
        }
        Ok(())
    }

    fn decoded<'a>(&mut self, chunk: &'a [u8], last: bool) -> Cow<'a, [u8]> {
        match &mut self.decoder {
            None => Cow::Borrowed(chunk),
            Some(decoder) => {
                let mut text = Vec::new();
                decode(decoder, chunk, last, &mut text);
                Cow::Owned(text)
            }
        }
    }

    fn understand(&mut self, whole: bool, each: &mut dyn FnMut(Row<'_>)) -> Result<(), Trouble> {
        if self.raw_head.is_empty() {
            return Err(Trouble::unusable(1, "it is empty", "export it again"));
        }
        let (sniffed, mark) = Encoding::sniff(&self.raw_head);
        let encoding = self.choices.encoding.unwrap_or(sniffed);
        self.marked = mark > 0 && encoding == sniffed;
        let body = if self.marked { &self.raw_head[mark..] } else { &self.raw_head[..] };
        let mut decoder = encoding.decoder();
        let head: Cow<'_, [u8]> = match &mut decoder {
            None => Cow::Borrowed(body),
            Some(decoder) => {
                let mut text = Vec::new();
                decode(decoder, body, false, &mut text);
                Cow::Owned(text)
            }
        };
        if head.contains(&0) {
            return Err(Trouble::unusable(
                1,
                "it is not text",
                "export it as text with rows of readings; `--encoding` says which encoding, where that is the trouble",
            ));
        }
        let shape = sniff(&head, encoding, (self.choices.delimiter, self.choices.decimal), &self.units)?;
        if !whole && shape.rows.len() < BLOCK {
            return Err(Trouble::unusable(shape.data_line, "too few rows have come", "wait for more"));
        }
        let running = self.start(&shape, encoding, &head)?;
        let body = head[shape.data_at..].to_vec();
        self.decoder = decoder;
        self.running = Some(running);
        self.raw_head = Vec::new();
        self.run(&body, each)
    }

    fn start(&self, shape: &Shape, encoding: Encoding, head: &[u8]) -> Result<Running, Trouble> {
        let mut finding = Finding { shape, choices: &self.choices, units: &self.units, questions: Vec::new() };
        let found = finding.find(&self.wanted);
        let questions = finding.questions;
        let Some((time, columns)) = found else { return Err(Trouble::Asked(questions)) };
        let clock = Clock::new(time.form, time.unit.as_ref().map(|(_, factor)| *factor));
        let count = columns.len();
        let before = head[..shape.data_at].iter().filter(|byte| **byte == b'\n').count() as u64;
        let first_named = shape.heading_line.or(shape.units.as_ref().map(|(line, _)| *line));
        Ok(Running {
            understood: Understood {
                encoding,
                marked: self.marked,
                delimiter: shape.delimiter,
                decimal: shape.decimal,
                preamble: first_named.unwrap_or(shape.data_line) - 1,
                heading_line: shape.heading_line,
                units_line: shape.units.as_ref().map(|(line, _)| *line),
                data_line: shape.data_line,
                headings: shape.headings.clone(),
                time,
                columns,
            },
            encoding,
            clock,
            decimal: shape.decimal,
            delimiter: shape.delimiter,
            rows: Rows::new(shape.delimiter, before),
            width: shape.headings.len(),
            values: vec![f64::NAN; count],
            words: (0..count).map(|_| Words::default()).collect(),
            tally: Tally { unreadable: vec![First::default(); count], filled: vec![0; count], ..Tally::default() },
        })
    }

    fn run(&mut self, text: &[u8], each: &mut dyn FnMut(Row<'_>)) -> Result<(), Trouble> {
        match &mut self.running {
            Some(running) => running.take(text, each),
            None => Ok(()),
        }
    }
}

impl Running {
    fn take(&mut self, mut text: &[u8], each: &mut dyn FnMut(Row<'_>)) -> Result<(), Trouble> {
        while !text.is_empty() {
            let (complete, taken) = self.rows.next(text).map_err(|TooLong { line }| {
                Trouble::unusable(
                    line,
                    "a line is too long for a row of readings",
                    "is there a quotation mark that is never closed?",
                )
            })?;
            if !complete {
                return Ok(());
            }
            if let Some(at) = self.row(text)? {
                each(Row { line: self.rows.line(), at, values: &self.values });
            }
            text = &text[taken..];
            self.rows.clear();
        }
        Ok(())
    }

    /// Reads a complete record; its time if it is one to use.
    #[inline]
    fn row(&mut self, chunk: &[u8]) -> Result<Option<f64>, Trouble> {
        let line = self.rows.line();
        let count = self.rows.len();
        // A sign after the last cell is a habit of some exports.
        let fits = count == self.width
            || count == self.width + 1 && self.rows.cell(chunk, self.width).is_empty()
            || count + 1 == self.width && self.understood.headings[count].starts_with('#');
        if !fits {
            if !(count == 1 && trimmed(self.rows.cell(chunk, 0)).is_empty()) {
                self.tally.odd.add(line);
            }
            return Ok(None);
        }
        let index = self.understood.time.index;
        if self.decimal.is_none() && self.understood.time.unit.is_some() && index < count {
            self.decide(chunk, index, line)?;
        }
        let at =
            if index < count { self.clock.read(trimmed(self.rows.cell(chunk, index)), self.decimal) } else { None };
        let Some(at) = at else {
            self.tally.timeless.add(line);
            return Ok(None);
        };
        if self.understood.time.day.is_none() {
            self.understood.time.day = self.clock.day;
        }
        for column in 0..self.values.len() {
            self.values[column] = self.value(chunk, column, line)?;
        }
        if self.tally.last.is_some_and(|last| at < last) {
            if self.tally.backwards.count == 0 {
                self.tally.back_by = self.tally.last.unwrap_or(at) - at;
            }
            self.tally.backwards.add(line);
            return Ok(None);
        }
        if self.tally.last == Some(at) {
            self.tally.repeated.add(line);
        }
        self.tally.rows += 1;
        self.tally.first.get_or_insert(at);
        self.tally.last = Some(at);
        Ok(Some(at))
    }

    #[inline]
    fn value(&mut self, chunk: &[u8], column: usize, line: u64) -> Result<f64, Trouble> {
        let index = self.understood.columns[column].index;
        if index >= self.rows.len() {
            return Ok(f64::NAN);
        }
        if self.decimal.is_none() && self.understood.columns[column].scale.is_some() {
            self.decide(chunk, index, line)?;
        }
        let read = &self.understood.columns[column];
        let cell = trimmed(self.rows.cell(chunk, index));
        let value = match &read.scale {
            Some(scale) => {
                number::read(cell, self.decimal.unwrap_or(DecimalSign::Point)).map(|value| scale.to_si(value))
            }
            None => self.words[column].number(cell, read, self.encoding).map(|number| number as f64),
        };
        match value {
            Some(value) => {
                self.tally.filled[column] += 1;
                Ok(value)
            }
            None if is_absent(cell) => Ok(f64::NAN),
            None => {
                self.tally.unreadable[column].add(line);
                Ok(f64::NAN)
            }
        }
    }

    /// The first number with a sign, where the head had none, says which sign it is.
    fn decide(&mut self, chunk: &[u8], index: usize, line: u64) -> Result<(), Trouble> {
        let text = self.encoding.text(trimmed(self.rows.cell(chunk, index)));
        let sign = match number::hint(&text) {
            Hint::None => return Ok(()),
            Hint::Surely(sign) => sign,
            Hint::Either if self.delimiter == b',' && text.contains('.') => DecimalSign::Point,
            Hint::Either => return Err(Trouble::Asked(vec![Question::decimal(&text, line)])),
        };
        self.decimal = Some(sign);
        self.understood.decimal = Some(sign);
        Ok(())
    }
}
