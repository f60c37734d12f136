//! Rows through all cores, in order, with a bounded number of them under way.

use std::cell::Cell;
use std::io::{self, BufRead, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use csv::{ByteRecord, Reader, ReaderBuilder};

use super::Table;
use super::chunk::Chunk;
use super::lines::Lines;
use crate::lanes::in_order;
use crate::separator;
use standpipe_script::Scripts;

/// Rows that travel together: few at first, so that no thread waits long for its first ones; then an eighth of those that
/// went before, so that the last ones don't keep one thread busy alone; and at most so many that passing them on costs
/// nothing beside the work.
const ROWS: (usize, usize) = (64, 4096);
/// A first line longer than this is none.
const LONGEST_HEAD: u64 = 1 << 20;

/// A row this long is none: most likely a quotation mark was never closed.
const LONGEST_ROW: u64 = 1 << 20;

/// Bytes of a table, as long as a row comes to its end now and then.
struct Bounded<R> {
    from: R,
    /// Bytes since the last row was complete.
    since: Arc<AtomicU64>,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.from.read(buffer)?;
        if self.since.fetch_add(got as u64, Ordering::Relaxed) > LONGEST_ROW {
            let message =
                format!("a row of more than {LONGEST_ROW} bytes; is there a quotation mark that is never closed?");
            return Err(io::Error::new(io::ErrorKind::InvalidData, message));
        }
        Ok(got)
    }
}

/// A table of which the first line was read.
pub struct Opened<R: Read> {
    reader: Reader<R>,
    since: Arc<AtomicU64>,
    /// Its headings.
    pub names: Vec<String>,
    /// What separates cells.
    pub separator: u8,
    /// The first line as it stands, for messages.
    pub head: String,
}

/// Some rows that were computed.
#[derive(Debug, Default)]
pub struct Batch {
    /// Lines of CSV, to be written as they are.
    pub text: Vec<u8>,
    /// How many rows it has.
    pub rows: u64,
    /// How many of them have no result.
    pub faulty: u64,
    /// How many of them carry a warning.
    pub warned: u64,
    /// Line of the first row that has an error, and what it says.
    pub first: Option<(u64, String)>,
    /// How far the table was read for these rows.
    pub read_to: u64,
}

impl<'r> Opened<Box<dyn Read + Send + 'r>> {
    /// Reads the first line. Whether `,`, `;` or a tab stands between cells follows from it.
    pub fn open(mut from: impl BufRead + Send + 'r) -> Result<Self, csv::Error> {
        let mut head = Vec::new();
        from.by_ref().take(LONGEST_HEAD).read_until(b'\n', &mut head)?;
        let text = String::from_utf8_lossy(&head).trim_end().to_owned();
        let separator = separator(&text);
        let since = Arc::new(AtomicU64::new(0));
        let from = Bounded { from: io::Cursor::new(head).chain(from), since: since.clone() };
        let whole: Box<dyn Read + Send + 'r> = Box::new(from);
        let mut reader = ReaderBuilder::new().flexible(true).delimiter(separator).from_reader(whole);
        let names = reader.headers()?.iter().map(str::to_owned).collect();
        Ok(Self { reader, since, names, separator, head: text })
    }
}

/// Computes every row on as many threads, each with an interpreter of its own from `scripts`; `write` gets the rows in
/// order and says whether it wants more.
pub fn compute<R: Read + Send>(
    table: &Table<'_>,
    mut opened: Opened<R>,
    threads: usize,
    scripts: &(dyn Fn() -> Scripts + Sync),
    mut write: impl FnMut(Batch) -> bool,
) -> Result<(), csv::Error> {
    let read = in_order(
        threads,
        move |hand| feed(&mut opened.reader, &opened.since, hand),
        &|| Worker { scripts: scripts(), length: Cell::default() },
        &|worker: &Worker, chunk| batch(table, worker, &chunk),
        &mut write,
    );
    read.unwrap_or(Ok(()))
}

fn feed<R: Read>(
    reader: &mut Reader<R>,
    since: &AtomicU64,
    hand: &mut dyn FnMut(Chunk) -> bool,
) -> Result<(), csv::Error> {
    let mut record = ByteRecord::new();
    let mut before = 0;
    loop {
        let mut chunk = Chunk::default();
        let mut ended = false;
        let together = (before / 8).clamp(ROWS.0, ROWS.1);
        while chunk.len() < together && !ended {
            ended = !reader.read_byte_record(&mut record)?;
            since.store(0, Ordering::Relaxed);
            if !ended {
                chunk.add(&record);
            }
        }
        before += chunk.len();
        chunk.read_to = reader.position().byte();
        if chunk.len() == 0 || !hand(chunk) || ended {
            return Ok(());
        }
    }
}

/// What one thread needs.
struct Worker {
    scripts: Scripts,
    /// Of the lines that it wrote before: the next ones are about as long.
    length: Cell<usize>,
}

fn batch(table: &Table<'_>, worker: &Worker, chunk: &Chunk) -> Batch {
    let mut batch = Batch { rows: chunk.len() as u64, read_to: chunk.read_to, ..Batch::default() };
    let mut lines = Lines::new(table.separator, worker.length.get());
    for row in 0..chunk.len() {
        let (cells, line) = chunk.row(row);
        let row = table.compute(&worker.scripts, &cells);
        match &row {
            Ok(row) => batch.warned += u64::from(!row.outcome.warnings.is_empty()),
            Err(message) => {
                batch.faulty += 1;
                batch.first.get_or_insert_with(|| (line, message.clone()));
            }
        }
        // A row that is too short or too long comes out with as many cells as the others.
        for index in 0..table.columns.len() {
            lines.cell(cells.get(index).unwrap_or_default());
        }
        table.result(&row, &mut |cell| lines.cell(cell.as_bytes()));
        lines.end();
    }
    batch.text = lines.text;
    worker.length.set(batch.text.len());
    batch
}
