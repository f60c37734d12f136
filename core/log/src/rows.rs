//! Records of delimited text out of chunks of bytes.

use csv_core::{ReadRecordResult, Reader, ReaderBuilder};

use super::cells::split;

/// A line this long is no row: most likely a quotation mark was never closed.
const LONGEST: usize = 1 << 18;
const MOST_CELLS: usize = 2_000;

pub(super) struct Rows {
    delimiter: u8,
    /// Cells of a record that lies in one chunk; else `reader` puts them together in `output`.
    lying: Vec<(usize, usize)>,
    lies: bool,
    /// Where that record begins in its chunk.
    at: usize,
    reader: Reader,
    output: Vec<u8>,
    ends: Vec<usize>,
    written: usize,
    ended: usize,
    /// Line ends that were read.
    before: u64,
    line: u64,
}

pub(super) struct TooLong {
    pub line: u64,
}

impl Rows {
    /// `before` lines stand before the first chunk.
    pub fn new(delimiter: u8, before: u64) -> Self {
        Self {
            delimiter,
            lying: Vec::with_capacity(32),
            lies: false,
            at: 0,
            reader: ReaderBuilder::new().delimiter(delimiter).build(),
            output: vec![0; 1024],
            ends: vec![0; 32],
            written: 0,
            ended: 0,
            before,
            line: before + 1,
        }
    }

    /// Takes what it needs of a chunk; true when a record is complete. An empty chunk is the end.
    pub fn next(&mut self, chunk: &[u8]) -> Result<(bool, usize), TooLong> {
        let mut taken = 0;
        loop {
            if self.written == 0 && self.ended == 0 {
                // Blank lines before a record are not its own; neither is the rest of a line end of two bytes.
                let blank = chunk[taken..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
                self.before += newlines(&chunk[taken..taken + blank]);
                taken += blank;
                self.line = self.before + 1;
                if blank > 0 && taken == chunk.len() {
                    return Ok((false, taken));
                }
                if let Some(end) = self.lie(&chunk[taken..], taken) {
                    return Ok((true, end));
                }
            }
            let (result, consumed, written, ended) = self.reader.read_record(
                &chunk[taken..],
                &mut self.output[self.written..],
                &mut self.ends[self.ended..],
            );
            self.before += newlines(&chunk[taken..taken + consumed]);
            taken += consumed;
            self.written += written;
            self.ended += ended;
            match result {
                ReadRecordResult::InputEmpty => return Ok((false, taken)),
                ReadRecordResult::End => return Ok((false, taken)),
                ReadRecordResult::Record => return Ok((true, taken)),
                ReadRecordResult::OutputFull if self.output.len() < LONGEST => {
                    self.output.resize(self.output.len() * 2, 0);
                }
                ReadRecordResult::OutputEndsFull if self.ends.len() < MOST_CELLS => {
                    self.ends.resize(self.ends.len() * 2, 0);
                }
                _ => return Err(TooLong { line: self.line }),
            }
        }
    }

    /// Finds the cells of a record where they lie; where it ends, if that is all it takes.
    fn lie(&mut self, rest: &[u8], taken: usize) -> Option<usize> {
        let end = split(rest, self.delimiter, &mut self.lying)?;
        if end > LONGEST || self.lying.len() > MOST_CELLS {
            return None;
        }
        self.at = taken;
        self.lies = true;
        self.before += u64::from(rest[end - 1] == b'\n');
        Some(taken + end)
    }

    /// Line on which the record begins, blank lines before it aside.
    pub fn line(&self) -> u64 {
        self.line
    }

    pub fn len(&self) -> usize {
        if self.lies { self.lying.len() } else { self.ended }
    }

    /// A cell of the record that was completed, in or by the chunk that was given.
    #[inline]
    pub fn cell<'a>(&'a self, chunk: &'a [u8], index: usize) -> &'a [u8] {
        if self.lies {
            let (start, end) = self.lying[index];
            return &chunk[self.at + start..self.at + end];
        }
        let start = if index == 0 { 0 } else { self.ends[index - 1] };
        &self.output[start..self.ends[index]]
    }

    /// Makes room for the next record.
    pub fn clear(&mut self) {
        self.written = 0;
        self.ended = 0;
        self.lies = false;
    }

    /// Whether part of a record has come.
    pub fn is_within(&self) -> bool {
        self.written > 0 || self.ended > 0
    }
}

fn newlines(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|byte| **byte == b'\n').count() as u64
}
