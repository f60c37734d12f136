//! Rows as the bytes of a Parquet file, and what has to be known of a file that is there.

use std::sync::Arc;

use bytes::Bytes;
use parquet::basic::{Compression, Encoding, LogicalType};
use parquet::column::reader::{ColumnReader, ColumnReaderImpl};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::ColumnPath;

use crate::cell::{Cell, Row};
use crate::table::{Column, Kind, Table, VERSION};

/// Under which the version of the tables stands in a file.
const VERSION_KEY: &str = "standpipe.archive";
/// Rows that readers take at a time.
const GROUP: usize = 1 << 17;

pub fn written(table: &Table, rows: &[Row]) -> Result<Vec<u8>> {
    let schema = Arc::new(parse_message_type(&message(table))?);
    let said = |key: &str, value: String| KeyValue::new(key.to_owned(), value);
    let mut properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(format!("standpipe {}", env!("CARGO_PKG_VERSION")))
        .set_key_value_metadata(Some(vec![
            said(VERSION_KEY, VERSION.to_string()),
            said("table", table.name.to_owned()),
        ]));
    for column in table.columns().filter(|column| matches!(column.kind, Kind::Whole | Kind::Time)) {
        // Numbers of events and times grow by little from row to row: of a job they take a quarter of all bytes less than by a
        // dictionary.
        let path = ColumnPath::from(column.name);
        properties = properties
            .set_column_dictionary_enabled(path.clone(), false)
            .set_column_encoding(path, Encoding::DELTA_BINARY_PACKED);
    }
    let mut bytes = Vec::new();
    let mut file = SerializedFileWriter::new(&mut bytes, schema, Arc::new(properties.build()))?;
    for rows in rows.chunks(GROUP) {
        let mut group = file.next_row_group()?;
        for (index, column) in table.columns().enumerate() {
            let cells = rows.iter().map(|row| row.get(index).unwrap_or(&Cell::Empty));
            let unfit = || {
                ParquetError::General(format!(
                    "`{}` of `{}` holds something that is not a {:?}",
                    column.name, table.name, column.kind
                ))
            };
            match column.kind {
                Kind::Text => fill::<ByteArrayType>(&mut group, column, cells, |cell| match cell {
                    Cell::Text(text) => Some(ByteArray::from(text.as_str())),
                    _ => None,
                }),
                Kind::Whole => fill::<Int64Type>(&mut group, column, cells, |cell| match cell {
                    Cell::Whole(number) => Some(*number),
                    _ => None,
                }),
                Kind::Time => fill::<Int64Type>(&mut group, column, cells, |cell| match cell {
                    Cell::Time(micros) => Some(*micros),
                    _ => None,
                }),
                Kind::Number => fill::<DoubleType>(&mut group, column, cells, |cell| match cell {
                    Cell::Number(number) => Some(*number),
                    _ => None,
                }),
                Kind::Truth => fill::<BoolType>(&mut group, column, cells, |cell| match cell {
                    Cell::Truth(truth) => Some(*truth),
                    _ => None,
                }),
            }?
            .ok_or_else(unfit)?;
        }
        group.close()?;
    }
    file.close()?;
    Ok(bytes)
}

/// `None` where a cell is not what the column takes.
fn fill<'c, T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, &mut Vec<u8>>,
    column: &Column,
    cells: impl Iterator<Item = &'c Cell>,
    of: impl Fn(&Cell) -> Option<T::T>,
) -> Result<Option<()>> {
    let (mut values, mut levels) = (Vec::new(), Vec::new());
    for cell in cells {
        if *cell == Cell::Empty && column.optional {
            levels.push(0);
            continue;
        }
        let Some(value) = of(cell) else { return Ok(None) };
        values.push(value);
        levels.push(1);
    }
    let Some(mut writer) = group.next_column()? else { return Ok(None) };
    writer.typed::<T>().write_batch(&values, column.optional.then_some(levels.as_slice()), None)?;
    writer.close()?;
    Ok(Some(()))
}

fn message(table: &Table) -> String {
    let mut text = format!("message {} {{\n", table.name);
    for column in table.columns() {
        let kind = match column.kind {
            Kind::Text => ["binary", " (STRING)"],
            Kind::Whole => ["int64", ""],
            Kind::Number => ["double", ""],
            Kind::Truth => ["boolean", ""],
            Kind::Time => ["int64", " (TIMESTAMP(MICROS,true))"],
        };
        let must = if column.optional { "optional" } else { "required" };
        text.push_str(&format!("  {must} {} {}{};\n", kind[0], column.name, kind[1]));
    }
    text.push('}');
    text
}

/// Why a file is not to be read.
#[derive(Debug)]
pub enum Unread {
    /// Of tables that this version does not know.
    Newer(String),
    Broken(String),
}

/// Some columns of a file, a row for each of its rows. A column that an earlier version did not write yet is empty.
pub fn read(bytes: Vec<u8>, wanted: &[&str]) -> std::result::Result<Vec<Row>, Unread> {
    let broken = |fault: ParquetError| Unread::Broken(fault.to_string());
    let file = SerializedFileReader::new(Bytes::from(bytes)).map_err(broken)?;
    let metadata = file.metadata().file_metadata();
    let said = metadata.key_value_metadata().and_then(|all| all.iter().find(|one| one.key == VERSION_KEY));
    let version = said.and_then(|said| said.value.clone()).unwrap_or_default();
    match version.parse::<u32>() {
        Ok(VERSION) => {}
        Ok(newer) if newer > VERSION => return Err(Unread::Newer(version)),
        _ => return Err(Unread::Broken("it says no version of its columns".to_owned())),
    }
    let columns = metadata.schema_descr().columns();
    let mut all: Vec<Row> = Vec::new();
    for at in 0..file.num_row_groups() {
        let group = file.get_row_group(at).map_err(broken)?;
        let first = all.len();
        let count = usize::try_from(group.metadata().num_rows()).unwrap_or_default();
        all.resize_with(first + count, || vec![Cell::Empty; wanted.len()]);
        for (to, name) in wanted.iter().enumerate() {
            let Some(index) = columns.iter().position(|column| column.name() == *name) else { continue };
            let mut cells = all[first..].iter_mut().map(|row| &mut row[to]);
            empty(
                group.get_column_reader(index).map_err(broken)?,
                count,
                &mut cells,
                columns[index].logical_type_ref(),
            )
            .map_err(broken)?;
        }
    }
    Ok(all)
}

/// Puts the values of a column into the cells.
fn empty(
    column: ColumnReader,
    count: usize,
    cells: &mut dyn Iterator<Item = &mut Cell>,
    logical: Option<&LogicalType>,
) -> Result<()> {
    match column {
        ColumnReader::BoolColumnReader(column) => pour(column, count, cells, |truth| Ok(Cell::Truth(truth))),
        ColumnReader::Int64ColumnReader(column) => match logical {
            Some(LogicalType::Timestamp(_)) => pour(column, count, cells, |at| Ok(Cell::Time(at))),
            _ => pour(column, count, cells, |number| Ok(Cell::Whole(number))),
        },
        ColumnReader::DoubleColumnReader(column) => pour(column, count, cells, |number| Ok(Cell::Number(number))),
        ColumnReader::ByteArrayColumnReader(column) => {
            pour(column, count, cells, |text| text.as_utf8().map(|text| Cell::Text(text.to_owned())))
        }
        _ => Err(ParquetError::General("a column is of a kind that no version wrote".to_owned())),
    }
}

fn pour<T: DataType>(
    mut column: ColumnReaderImpl<T>,
    count: usize,
    cells: &mut dyn Iterator<Item = &mut Cell>,
    of: impl Fn(T::T) -> Result<Cell>,
) -> Result<()> {
    let (mut values, mut levels) = (Vec::with_capacity(count), Vec::with_capacity(count));
    let (rows, found, _) = column.read_records(count, Some(&mut levels), None, &mut values)?;
    if rows != count {
        return Err(ParquetError::General(format!("a column has {rows} of {count} rows")));
    }
    let always = levels.is_empty() && found == count;
    let mut values = values.into_iter();
    for (at, cell) in cells.enumerate() {
        if always || levels.get(at).is_some_and(|level| *level > 0) {
            *cell = values.next().map(&of).transpose()?.unwrap_or_default();
        }
    }
    Ok(())
}
