//! Rows through all cores, in order, with a bounded number of them under way.

use std::cell::RefCell;
use std::io::{self, BufRead, Read};

use csv::{ByteRecord, Reader, ReaderBuilder, WriterBuilder};

use super::Table;
use super::plain::Plain;
use crate::script::Scripts;
use crate::sheet::lanes::in_order;
use crate::sheet::separator;

/// Rows that travel together: few at first, so that no thread waits long for its first ones; then an eighth of those that
/// went before, so that the last ones don't keep one thread busy alone; and at most so many that passing them on costs
/// nothing beside the work.
const ROWS: (usize, usize) = (64, 4096);
/// A first line longer than this is none.
const LONGEST_HEAD: u64 = 1 << 20;

/// A table of which the first line was read.
pub struct Opened<R: Read> {
    reader: Reader<R>,
    pub names: Vec<String>,
    pub separator: u8,
    /// The first line as it stands, for messages.
    pub head: String,
}

/// Some rows that were computed.
#[derive(Debug, Default)]
pub struct Batch {
    /// Lines of CSV, to be written as they are.
    pub text: Vec<u8>,
    pub rows: u64,
    pub faulty: u64,
    pub warned: u64,
    /// Line of the first row that has an error, and what it says.
    pub first: Option<(u64, String)>,
    /// How far the table was read for these rows.
    pub read_to: u64,
}

/// Rows on their way to a thread, cells end to end: a record each would be memory that one thread takes and another gives
/// back, and the threads would wait for one another over that.
#[derive(Default)]
struct Chunk {
    bytes: Vec<u8>,
    /// Where each cell ends in `bytes`.
    ends: Vec<usize>,
    /// For each row, where it ends in `ends`, and its line in the file.
    rows: Vec<(usize, u64)>,
    read_to: u64,
}

impl Chunk {
    fn add(&mut self, record: &ByteRecord) {
        for cell in record {
            self.bytes.extend_from_slice(cell);
            self.ends.push(self.bytes.len());
        }
        self.rows.push((self.ends.len(), record.position().map_or(0, csv::Position::line)));
    }

    /// Hands out row after row with its line.
    fn each(&self, mut take: impl FnMut(&ByteRecord, u64)) {
        let mut record = ByteRecord::new();
        let (mut cell, mut from) = (0, 0);
        for (end, line) in &self.rows {
            record.clear();
            for to in &self.ends[cell..*end] {
                record.push_field(&self.bytes[from..*to]);
                from = *to;
            }
            cell = *end;
            take(&record, *line);
        }
    }
}

impl<'r> Opened<Box<dyn Read + Send + 'r>> {
    /// Reads the first line. Whether `,`, `;` or a tab stands between cells follows from it.
    pub fn open(mut from: impl BufRead + Send + 'r) -> Result<Self, csv::Error> {
        let mut head = Vec::new();
        from.by_ref().take(LONGEST_HEAD).read_until(b'\n', &mut head)?;
        let text = String::from_utf8_lossy(&head).trim_end().to_owned();
        let separator = separator(&text);
        let whole: Box<dyn Read + Send + 'r> = Box::new(io::Cursor::new(head).chain(from));
        let mut reader = ReaderBuilder::new().flexible(true).delimiter(separator).from_reader(whole);
        let names = reader.headers()?.iter().map(str::to_owned).collect();
        Ok(Self { reader, names, separator, head: text })
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
        move |hand| feed(&mut opened.reader, hand),
        &|| Worker { scripts: scripts(), plain: RefCell::default() },
        &|worker: &Worker, chunk| batch(table, worker, &chunk),
        &mut write,
    );
    read.unwrap_or(Ok(()))
}

fn feed<R: Read>(reader: &mut Reader<R>, hand: &mut dyn FnMut(Chunk) -> bool) -> Result<(), csv::Error> {
    let mut record = ByteRecord::new();
    let mut before = 0;
    loop {
        let mut chunk = Chunk::default();
        let mut ended = false;
        let together = (before / 8).clamp(ROWS.0, ROWS.1);
        while chunk.rows.len() < together && !ended {
            ended = !reader.read_byte_record(&mut record)?;
            if !ended {
                chunk.add(&record);
            }
        }
        before += chunk.rows.len();
        chunk.read_to = reader.position().byte();
        if chunk.rows.is_empty() || !hand(chunk) || ended {
            return Ok(());
        }
    }
}

/// What one thread needs.
struct Worker {
    scripts: Scripts,
    plain: RefCell<Plain>,
}

fn batch(table: &Table<'_>, worker: &Worker, chunk: &Chunk) -> Batch {
    let mut plain = worker.plain.borrow_mut();
    let mut batch = Batch { rows: chunk.rows.len() as u64, read_to: chunk.read_to, ..Batch::default() };
    let mut writer = WriterBuilder::new().delimiter(table.separator).from_writer(Vec::new());
    chunk.each(|record, line| {
        if let Some(warned) = plain.row(table, &worker.scripts, record, &mut writer) {
            batch.warned += u64::from(warned);
            return;
        }
        let row = table.compute(&worker.scripts, record);
        match &row {
            Ok(row) => batch.warned += u64::from(!row.outcome.warnings.is_empty()),
            Err(message) => {
                batch.faulty += 1;
                batch.first.get_or_insert_with(|| (line, message.clone()));
            }
        }
        // A row that is too short or too long comes out with as many cells as the others. Memory takes all it is given.
        for index in 0..table.columns.len() {
            let _ = writer.write_field(record.get(index).unwrap_or_default());
        }
        table.result(&row, &mut |cell| {
            let _ = writer.write_field(cell);
        });
        let _ = writer.write_record(None::<&[u8]>);
    });
    batch.text = writer.into_inner().unwrap_or_default();
    batch
}
