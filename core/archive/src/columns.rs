//! Rows as the bytes of a Parquet file, and what has to be known of a file that is there.

use std::fs::File;
use std::sync::Arc;

use parquet::basic::Compression;
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::record::Field;
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::Type;

use crate::cell::{Cell, Row};
use crate::table::{Column, Kind, Table, VERSION};

/// Under which the version of the tables stands in a file.
const VERSION_KEY: &str = "standpipe.archive";
/// Rows that readers take at a time.
const GROUP: usize = 1 << 17;

pub fn written(table: &Table, rows: &[Row]) -> Result<Vec<u8>> {
    let schema = Arc::new(parse_message_type(&message(table))?);
    let said = |key: &str, value: String| KeyValue::new(key.to_owned(), value);
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(format!("standpipe {}", env!("CARGO_PKG_VERSION")))
        .set_key_value_metadata(Some(vec![
            said(VERSION_KEY, VERSION.to_string()),
            said("table", table.name.to_owned()),
        ]))
        .build();
    let mut bytes = Vec::new();
    let mut file = SerializedFileWriter::new(&mut bytes, schema, Arc::new(properties))?;
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

/// Key and head of each job in a file of the table `jobs`.
pub fn jobs(file: File) -> std::result::Result<Vec<(String, String)>, Unread> {
    let broken = |fault: ParquetError| Unread::Broken(fault.to_string());
    let file = SerializedFileReader::new(file).map_err(broken)?;
    let metadata = file.metadata().file_metadata();
    let said = metadata.key_value_metadata().and_then(|all| all.iter().find(|one| one.key == VERSION_KEY));
    let version = said.and_then(|said| said.value.clone()).unwrap_or_default();
    match version.parse::<u32>() {
        Ok(VERSION) => {}
        Ok(newer) if newer > VERSION => return Err(Unread::Newer(version)),
        _ => return Err(Unread::Broken("it says no version of its columns".to_owned())),
    }
    let wanted = ["job_key", "head"];
    let schema = metadata.schema();
    let fields = schema.get_fields().iter().filter(|field| wanted.contains(&field.name())).cloned().collect();
    let projection = Type::group_type_builder(schema.name()).with_fields(fields).build().map_err(broken)?;
    let mut found = Vec::new();
    for row in file.get_row_iter(Some(projection)).map_err(broken)? {
        let row = row.map_err(broken)?;
        let mut named = [String::new(), String::new()];
        for (name, field) in row.get_column_iter() {
            if let (Some(at), Field::Str(text)) = (wanted.iter().position(|one| one == name), field) {
                named[at].clone_from(text);
            }
        }
        found.push(named.into());
    }
    Ok(found)
}
