//! From a CSV file to a [`Table`]; every fault at its cell.

use std::collections::HashMap;
use std::sync::Arc;

use super::cells::{Cell, Line, lines};
use super::{Column, Row, Table};
use crate::value::Value;
use crate::{Name, Units};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// Name of the column that says where a row is from.
const SOURCE: &str = "source";
/// A table for people to read and check; a file of more columns is a mistake, or meant to be one.
const MOST_COLUMNS: usize = 1_000;
/// Faults after which nobody reads on.
const MOST_FAULTS: usize = 200;
const NOTES: [&str; 4] = ["title", "source", "invented", "override"];

/// `# title: ...` and the like, before the heading.
#[derive(Default)]
struct Notes {
    title: Option<String>,
    source: Option<String>,
    invented: bool,
}

impl Table {
    /// Reads and checks a table; `None` if it can't be relied on.
    pub fn read(id: &str, source: &Arc<Source>, units: &Units, problems: &mut Problems) -> Option<Table> {
        let before = problems.len();
        let notes = notes(source, problems);
        let mut lines = lines(source, problems).into_iter();
        let Some(heading) = lines.next() else {
            problems.push(
                Diagnostic::error(Code::FaultyTable, &Place::whole(source), "a table without a heading")
                    .expected("a line such as `name,depth [mm],source`")
                    .help("add it as the first line that is not a comment"),
            );
            return None;
        };
        let place = heading.first().map_or_else(|| Place::whole(source), |cell| cell.place.clone());
        if let [only] = &heading[..]
            && only.text.matches(';').count() > 0
        {
            problems.push(
                Diagnostic::error(Code::FaultyTable, &place, "semicolons stand between the cells of this table")
                    .expected("a comma between cells, and a point as decimal mark")
                    .help("save it again with commas, as many programs offer"),
            );
            return None;
        }
        if heading.first().is_some_and(|cell| cell.text.trim().parse::<f64>().is_ok()) {
            problems.push(
                Diagnostic::error(
                    Code::FaultyTable,
                    &place,
                    "the first line is not a heading: it begins with a number",
                )
                .expected("the name of each column, with its unit: `depth [mm]`")
                .help("write a line of headings above the rows"),
            );
            return None;
        }
        if heading.len() > MOST_COLUMNS {
            problems.push(
                Diagnostic::error(Code::FaultyTable, &place, format!("a table of {} columns", heading.len()))
                    .expected(format!("at most {MOST_COLUMNS}"))
                    .help("split it, or turn it so that its columns become rows"),
            );
            return None;
        }
        let mut columns = columns(&heading, units, problems);
        let source_at = columns.iter().position(|column| column.name == SOURCE);
        if source_at.is_none() && notes.source.is_none() {
            problems.push(
                Diagnostic::error(Code::MissingSource, &place, "the table does not say where it is from")
                    .help("add a line `# source: ...` at the top, or a column `source`"),
            );
        }
        let mut rows = Vec::new();
        for line in lines {
            if problems.len() - before > MOST_FAULTS {
                let place = line.first().map_or_else(|| place.clone(), |cell| cell.place.clone());
                problems.push(
                    Diagnostic::error(Code::FaultyTable, &place, format!("more than {MOST_FAULTS} faults before here"))
                        .help("fix these first; what follows was not checked"),
                );
                break;
            }
            rows.extend(row(&line, &columns, source_at, &notes, units, problems));
        }
        if rows.is_empty() {
            problems.push(
                Diagnostic::warning(Code::FaultyTable, &place, "a table without rows")
                    .help("add rows below the heading, or delete the file"),
            );
        }
        if let Some(index) = source_at {
            columns.remove(index);
        }
        let sound = !problems[before..].iter().any(Diagnostic::is_error);
        let table = Table { id: id.to_string(), title: notes.title, invented: notes.invented, columns, rows, place };
        sound.then_some(table)
    }
}

fn notes(source: &Arc<Source>, problems: &mut Problems) -> Notes {
    let mut notes = Notes::default();
    let mut start = 0;
    for line in source.text.split_inclusive('\n') {
        let written = line.trim_start_matches('\u{feff}').trim();
        if !written.is_empty() && !written.starts_with('#') {
            break;
        }
        let note = written.trim_start_matches(['#', ' ']);
        if let Some((key, value)) = note.split_once(':') {
            let (key, value) = (key.trim(), value.trim().to_string());
            match key {
                "title" => notes.title = Some(value),
                "source" => notes.source = Some(value).filter(|source| !source.is_empty()),
                "invented" => notes.invented = value == "true",
                _ => {}
            }
            let truth = matches!(key, "invented" | "override")
                && !matches!(note.split(':').nth(1).map(str::trim), Some("true" | "false"));
            if truth {
                problems.push(
                    Diagnostic::error(
                        Code::FaultyTable,
                        &Place::new(source, start..start + line.trim_end().len()),
                        format!("`{key}` is neither true nor false"),
                    )
                    .help(format!("write `# {key}: true`, or remove the line")),
                );
            } else if let Some(near) = standpipe_diagnostic::nearest(key, NOTES).filter(|near| *near != key) {
                problems.push(
                    Diagnostic::warning(
                        Code::FaultyTable,
                        &Place::new(source, start..start + line.trim_end().len()),
                        format!("nothing reads `{key}`"),
                    )
                    .help(format!("did you mean `{near}`?")),
                );
            }
        }
        start += line.len();
    }
    notes
}

fn columns(heading: &Line, units: &Units, problems: &mut Problems) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    let mut firsts: HashMap<String, Place> = HashMap::new();
    for cell in heading {
        let (name, unit) = match cell.text.split_once('[') {
            Some((name, unit)) => (name.trim(), Some(unit)),
            None => (cell.text.trim(), None),
        };
        let name = name.replace(['-', ' '], "_");
        let sound = name.starts_with(|c: char| c.is_ascii_lowercase())
            && name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        if !sound {
            problems.push(
                Diagnostic::error(
                    Code::FaultyTable,
                    &cell.place,
                    format!("`{name}` can't be used as a name in scripts"),
                )
                .expected("lower-case letters, digits and `_`, a letter first, then the unit in brackets")
                .help(match cell.text.trim().strip_suffix(')').and_then(|text| text.split_once('(')) {
                    Some((name, unit)) => format!("write the unit in square brackets: `{} [{unit}]`", name.trim()),
                    None => "rename the column, e.g. `depth [mm]`".to_owned(),
                }),
            );
        }
        if let Some(first) = firsts.get(&name) {
            problems.push(
                Diagnostic::error(Code::FaultyTable, &cell.place, format!("a second column `{name}`"))
                    .also(first, "the first")
                    .help("give one of them another name"),
            );
        } else {
            firsts.insert(name.clone(), cell.place.clone());
        }
        let (unit, quantity) = match unit.and_then(|unit| checked_unit(unit, cell, units, problems)) {
            Some((unit, quantity)) => (Some(unit), quantity),
            None => (None, None),
        };
        columns.push(Column { name, unit, quantity, place: cell.place.clone() });
    }
    columns
}

/// The unit of a heading, and the quantity it leaves no doubt about.
fn checked_unit(written: &str, cell: &Cell, units: &Units, problems: &mut Problems) -> Option<(String, Option<Name>)> {
    let Some(unit) = written.strip_suffix(']').map(str::trim) else {
        problems.push(
            Diagnostic::error(Code::FaultyTable, &cell.place, "the bracket around the unit is not closed")
                .help("write the unit as in `depth [mm]`"),
        );
        return None;
    };
    if unit == "1" {
        return Some((unit.to_string(), None));
    }
    match units.read(&format!("1 {unit}"), None, None) {
        Ok(Value::Quantity(quantity)) => Some((unit.to_string(), quantity.of)),
        Ok(_) => Some((unit.to_string(), None)),
        Err(fault) => {
            let mut problem =
                Diagnostic::error(Code::FaultyTable, &cell.place, fault.message).label("the unit of this column");
            problem.expected = (!fault.choices.is_empty()).then(|| fault.choices.join(", "));
            problem.help = fault.help.or_else(|| Some("write a unit that is known, or `[1]` for plain numbers".into()));
            problems.push(problem);
            None
        }
    }
}

fn row(
    line: &Line,
    columns: &[Column],
    source_at: Option<usize>,
    notes: &Notes,
    units: &Units,
    problems: &mut Problems,
) -> Option<Row> {
    let (first, last) = (line.first()?, line.last()?);
    if line.len() != columns.len() {
        problems.push(
            Diagnostic::error(
                Code::FaultyTable,
                &first.place.to(&last.place),
                format!("{} cells in this row, {} in the heading", line.len(), columns.len()),
            )
            .help("add what is missing; a cell with a comma in it needs quotes"),
        );
        return None;
    }
    let own = source_at.and_then(|index| line.get(index)).map(|cell| cell.text.clone()).filter(|text| !text.is_empty());
    let source = own.or_else(|| notes.source.clone());
    if source.is_none() && source_at.is_some() {
        problems.push(
            Diagnostic::error(
                Code::MissingSource,
                &first.place.to(&last.place),
                "this row does not say where it is from",
            )
            .help("fill in its cell `source`, or add a line `# source: ...` at the top for all rows"),
        );
    }
    let cells =
        || line.iter().zip(columns).enumerate().filter(|(index, _)| Some(*index) != source_at).map(|(_, pair)| pair);
    Some(Row {
        values: cells().map(|(cell, column)| value(cell, column, units, problems)).collect(),
        places: cells().map(|(cell, _)| cell.place.clone()).collect(),
        source: source.unwrap_or_default(),
    })
}

fn value(cell: &Cell, column: &Column, units: &Units, problems: &mut Problems) -> Value {
    if cell.text.is_empty() || cell.text == "unknown" {
        return Value::Unknown;
    }
    let Some(unit) = &column.unit else { return Value::Text(cell.text.clone()) };
    let asked = column.quantity.as_deref();
    let bare = (unit != "1").then_some(unit.as_str());
    let read = if cell.text.contains("..") {
        units.read_range(&cell.text, asked, bare)
    } else {
        units.read(&cell.text, asked, bare)
    };
    match read {
        Ok(Value::Quantity(quantity)) if bare.is_none() => {
            problems.push(
                Diagnostic::error(Code::FaultyTable, &cell.place, format!("`{}` is not a plain number", cell.text))
                    .expected(format!("numbers, as the heading `{} [1]` says", column.name))
                    .help(match &quantity.written {
                        Some(written) => {
                            format!("write the unit into the heading: `{} [{}]`", column.name, written.unit)
                        }
                        None => "remove the unit".into(),
                    }),
            );
            Value::Unknown
        }
        Ok(value) if asked.is_none() && bare.is_some_and(|unit| !is_of_unit(&value, unit, units)) => {
            problems.push(
                Diagnostic::error(Code::FaultyTable, &cell.place, format!("`{}` can't be given in {unit}", cell.text))
                    .help("write the number in the unit of the heading"),
            );
            Value::Unknown
        }
        Ok(value) => value,
        Err(fault) => {
            let mut problem = Diagnostic::error(Code::FaultyTable, &cell.place, fault.message)
                .label(format!("column `{}` in {unit}", column.name));
            problem.help =
                fault.help.or_else(|| Some("write a number; leave the cell empty if nobody knows it".into()));
            problems.push(problem);
            Value::Unknown
        }
    }
}

/// A unit that several quantities share says only what dimension a cell must have.
fn is_of_unit(value: &Value, unit: &str, units: &Units) -> bool {
    let one = units.read(&format!("1 {unit}"), None, None);
    match (value, one) {
        (Value::Quantity(value) | Value::Range(value, _), Ok(Value::Quantity(one))) => {
            value.dimension == one.dimension && value.point == one.point
        }
        (Value::Number(_), Ok(Value::Number(_))) => true,
        _ => false,
    }
}
