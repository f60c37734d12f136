//! What the beginning of a log tells of its shape: delimiter, heading, units, where the data start.

use super::encoding::Encoding;
use super::number::{self, Hint, is_absent, trimmed};
use super::question::{Question, Trouble};
use super::rows::Rows;
use super::understood::delimiter_words;
use super::{DecimalSign, clock};
use standpipe_quantity::Units;

/// So many rows in a row of the same width begin the data; fewer where there are no more.
pub(super) const BLOCK: usize = 4;

/// One record of the head.
#[derive(Clone, Debug)]
pub(super) struct Record {
    pub line: u64,
    /// Where the next record begins.
    pub end: usize,
    pub cells: Vec<String>,
}

#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub delimiter: u8,
    pub headings: Vec<String>,
    pub heading_line: Option<u64>,
    /// Cells of the row of units below the heading.
    pub units: Option<(u64, Vec<String>)>,
    pub data_line: u64,
    /// Byte of the head at which the data begin.
    pub data_at: usize,
    pub rows: Vec<Record>,
    /// The file as a whole can only mean this sign, or none is seen yet.
    pub decimal: Option<DecimalSign>,
}

/// The shape of a text, or what has to be said about it first.
pub(super) fn sniff(
    head: &[u8],
    encoding: Encoding,
    said: (Option<u8>, Option<DecimalSign>),
    units: &Units,
) -> Result<Shape, Trouble> {
    let candidates: Vec<u8> = match said.0 {
        Some(delimiter) => vec![delimiter],
        None => vec![b',', b';', b'\t'],
    };
    let mut found: Vec<(f64, u8, Vec<Record>, usize)> = Vec::new();
    for delimiter in candidates {
        let records = records(head, encoding, delimiter)?;
        if let Some((start, score)) = data_start(&records, delimiter) {
            found.push((score, delimiter, records, start));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut ranked = found.into_iter();
    let Some((score, delimiter, records, start)) = ranked.next() else {
        return Err(Trouble::unusable(
            1,
            "there are no rows of readings in it",
            "rows of cells between commas, semicolons or tabs are needed, one cell the time",
        ));
    };
    if let Some((other_score, other, ..)) = ranked.next()
        && other_score > 0.9 * score
    {
        return Err(Trouble::Asked(vec![Question {
            message: format!(
                "The cells may be separated by a {} or a {}",
                delimiter_words(delimiter),
                delimiter_words(other)
            ),
            option: "--delimiter SIGN".to_owned(),
            choices: vec![delimiter_words(delimiter).to_owned(), delimiter_words(other).to_owned()],
            line: records[start].line,
        }]));
    }
    shape(delimiter, records, start, said.1, units)
}

fn shape(
    delimiter: u8,
    records: Vec<Record>,
    start: usize,
    said: Option<DecimalSign>,
    units: &Units,
) -> Result<Shape, Trouble> {
    let width = records[start].cells.len();
    let above: Vec<&Record> = records[..start].iter().rev().take(2).collect();
    let names = |record: &Record| record.cells.iter().filter(|cell| !cell.trim().is_empty()).count() >= 2;
    let fits = |record: &Record| record.cells.len() == width || record.cells.len() + 1 == width;
    let heading_at = |at: usize| above.get(at).copied().filter(|record| names(record) && fits(record));
    let units_row = above.first().filter(|record| fits(record) && is_units_row(record, units));
    let units_row = units_row.map(|record| (record.line, record.cells.clone()));
    let heading = heading_at(usize::from(units_row.is_some()));
    if heading.is_none()
        && let Some(last) = above.first()
        && names(last)
        && last.cells.len() * 2 == width + 1
        && delimiter == b','
    {
        return Err(Trouble::unusable(
            records[start].line,
            format!("the rows have {width} cells, their heading {}", last.cells.len()),
            "commas are used both between cells and within numbers; export it with semicolons, or with a decimal point",
        ));
    }
    let mut headings: Vec<String> =
        heading.map(|record| record.cells.iter().map(|cell| cell.trim().to_owned()).collect()).unwrap_or_default();
    headings.resize(width, String::new());
    for (index, heading) in headings.iter_mut().enumerate().filter(|(_, heading)| heading.is_empty()) {
        *heading = format!("#{}", index + 1);
    }
    let heading_line = heading.map(|record| record.line);
    let data_at = if start == 0 { 0 } else { records[start - 1].end };
    let data_line = records[start].line;
    let rows = records[start..].to_vec();
    let decimal = match said {
        Some(sign) => Some(sign),
        None => decimal(&rows, delimiter)?,
    };
    Ok(Shape { delimiter, headings, heading_line, units: units_row, data_line, data_at, rows, decimal })
}

fn records(head: &[u8], encoding: Encoding, delimiter: u8) -> Result<Vec<Record>, Trouble> {
    let mut rows = Rows::new(delimiter, 0);
    let mut records = Vec::new();
    let mut at = 0;
    while at < head.len() {
        let chunk = &head[at..];
        let Ok((complete, taken)) = rows.next(chunk) else { break };
        at += taken;
        if !complete {
            break;
        }
        let cells: Vec<String> = (0..rows.len()).map(|index| encoding.text(rows.cell(chunk, index))).collect();
        records.push(Record { line: rows.line(), end: at, cells });
        rows.clear();
    }
    Ok(records)
}

/// The record with which the data begin, and how well the delimiter explains them.
fn data_start(records: &[Record], delimiter: u8) -> Option<(usize, f64)> {
    let start = (0..records.len()).find(|&at| {
        let width = records[at].cells.len();
        let block = &records[at..records.len().min(at + BLOCK)];
        // Whether cells look like readings is asked last: it costs most, and a wrong delimiter leaves rows of one cell.
        width >= 2 && block.iter().all(|record| record.cells.len() == width) && block.iter().all(is_data)
    })?;
    let width = records[start].cells.len();
    let rest = &records[start..];
    let same = rest.iter().filter(|record| record.cells.len() == width).count() as f64 / rest.len() as f64;
    let cells: Vec<&str> = rest.iter().flat_map(|record| record.cells.iter().map(|cell| cell.trim())).collect();
    // A cell that another sign could still cut was cut by the wrong one.
    let clean = |cell: &str| !cell.contains([';', '\t']) || delimiter == b';' && !cell.contains('\t');
    let clean = cells.iter().filter(|cell| is_reading(cell) || is_word(cell) && clean(cell)).count() as f64;
    let score = same * clean / cells.len().max(1) as f64;
    (score > 0.5).then_some((start, score))
}

fn is_reading(cell: &str) -> bool {
    let cell = cell.trim();
    let bytes = trimmed(cell.as_bytes());
    is_absent(bytes)
        || number::read(bytes, DecimalSign::Point).is_some()
        || number::read(bytes, DecimalSign::Comma).is_some()
        || !clock::forms(cell).is_empty()
}

fn is_word(cell: &str) -> bool {
    cell.chars().count() <= 24 && !cell.contains([',', ';', '\t'])
}

fn is_data(record: &Record) -> bool {
    let cells: Vec<&str> = record.cells.iter().map(|cell| cell.trim()).filter(|cell| !cell.is_empty()).collect();
    let readings = cells.iter().filter(|cell| is_reading(cell) && !is_absent(cell.as_bytes())).count();
    let absent = cells.iter().filter(|cell| is_absent(cell.as_bytes())).count();
    readings > 0 && (readings + absent) * 2 >= cells.len()
}

/// Below the heading, a row of symbols of which at least one is a unit and none is long.
fn is_units_row(record: &Record, units: &Units) -> bool {
    let cells: Vec<&str> = record.cells.iter().map(|cell| bare(cell)).filter(|cell| !cell.is_empty()).collect();
    let known = |cell: &str| units.families().any(|family| units.scale(&family.name, cell).is_ok());
    cells.iter().all(|cell| cell.chars().count() <= 8) && cells.iter().any(|cell| known(cell) && *cell != "1")
}

/// A unit without brackets around it.
pub(super) fn bare(cell: &str) -> &str {
    cell.trim().trim_matches(['[', ']', '(', ')', '<', '>']).trim()
}

/// The sign that all numbers agree on; asked where every one with a sign could be either.
fn decimal(rows: &[Record], delimiter: u8) -> Result<Option<DecimalSign>, Trouble> {
    let mut sure: Vec<(DecimalSign, u64, &str)> = Vec::new();
    let mut either: Option<(u64, &str)> = None;
    for record in rows {
        for cell in record.cells.iter().map(|cell| cell.trim()) {
            match number::hint(cell) {
                Hint::None => {}
                Hint::Surely(sign) if sure.iter().any(|(known, ..)| *known == sign) => {}
                Hint::Surely(sign) => sure.push((sign, record.line, cell)),
                Hint::Either => either = either.or(Some((record.line, cell))),
            }
        }
    }
    match (sure.as_slice(), either) {
        ([(sign, ..)], _) => Ok(Some(*sign)),
        ([], None) => Ok(None),
        // Where commas are between the cells, a point between digits is no sign of thousands.
        ([], Some((_, cell))) if delimiter == b',' && cell.contains('.') => Ok(Some(DecimalSign::Point)),
        ([], Some((line, cell))) => Err(Trouble::Asked(vec![Question::decimal(cell, line)])),
        ([(_, _, one), (_, line, other), ..], _) => {
            let message = format!("It contains both `{one}` and `{other}`: which is the decimal sign?");
            Err(Trouble::Asked(vec![Question { message, ..Question::decimal(one, *line) }]))
        }
    }
}
