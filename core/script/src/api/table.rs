//! Looking up in the tables of plugins.

use std::rc::Rc;

use indexmap::IndexMap;
use rhai::{Dynamic, Map};

use super::{Arguments, Function};
use crate::convert::{from_script, into_script};
use crate::guest::{Answer, Stop, stop, stop_with};
use crate::operand::{Operand, collapsed};
use crate::operator::faulty;
use standpipe_diagnostic::{Code, nearest};
use standpipe_quantity::table::Table;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, close};

/// In the examples: a table `springs` with the columns `name`, `wire [mm]` and `load [N]`, rows soft 1 2, medium 2 6, hard 3 18.
pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "table",
        takes: &["id"],
        about: "All rows of a table of a plugin, as records.",
        examples: &[
            ("table(\"springs\").len()", "3"),
            ("table(\"springs\").map(|one| one.name)", "soft, medium, hard"),
            ("table(\"spring\")", "error: there is no table `spring`"),
        ],
        run: |a| {
            let table = named(&a)?;
            let rows = (0..table.rows.len()).map(|row| record(&table, row)).collect();
            Ok(Dynamic::from_array(rows))
        },
    },
    Function {
        name: "table_row",
        takes: &["id", "wanted"],
        about: "The one row of a table that has these values in these columns; refuses when there is none, or more than one.",
        examples: &[
            ("table_row(\"springs\", #{ name: \"medium\" }).load == 6.N", "true"),
            ("table_row(\"springs\", #{ wire: 0.3.cm }).name", "hard"),
            ("table_row(\"springs\", #{ name: \"odd\" })", "error: the table `springs` has no row with name odd"),
            ("table_row(\"springs\", #{ nam: \"soft\" })", "error: the table `springs` has no column `nam`"),
        ],
        run: one_row,
    },
    Function {
        name: "table_rows",
        takes: &["id", "wanted"],
        about: "Every row of a table that has these values in these columns, perhaps none.",
        examples: &[
            ("table_rows(\"springs\", #{ name: \"soft\" }).len()", "1"),
            ("table_rows(\"springs\", #{ name: \"odd\" }).len()", "0"),
        ],
        run: |a| {
            let table = named(&a)?;
            let rows = found(&a, &table)?.into_iter().map(|row| record(&table, row)).collect();
            Ok(Dynamic::from_array(rows))
        },
    },
    Function {
        name: "table_between",
        takes: &["id", "column", "value"],
        about: "The numbers of a table at a value of one column, on straight lines between its rows; nothing is guessed \
                beyond the first and last.",
        examples: &[
            ("table_between(\"springs\", \"wire\", 1.5.mm).load == 4.N", "true"),
            ("table_between(\"springs\", \"wire\", 3.mm).load == 18.N", "true"),
            ("table_between(\"springs\", \"wire\", 4.mm)", "error: 4"),
            (
                "table_between(\"springs\", \"name\", 1)",
                "error: the column `name` of the table `springs` holds no numbers",
            ),
        ],
        run: between,
    },
];

fn named(a: &Arguments<'_, '_>) -> Result<Rc<Table>, Stop> {
    a.run.tables.get(&a.text(0)?, &a.run.units)
}

/// A cell that is empty or `unknown` may be carried about; touching it makes the result not shown.
fn record(table: &Table, row: usize) -> Dynamic {
    let cells = table.columns.iter().zip(&table.rows[row].values);
    let record: Map =
        cells.map(|(column, value)| (column.name.as_str().into(), cell(table, row, column, value))).collect();
    Dynamic::from_map(record)
}

fn cell(table: &Table, row: usize, column: &standpipe_quantity::table::Column, value: &Value) -> Dynamic {
    match value {
        Value::Unknown => {
            into_script(value, &format!("{} in row {} of the table `{}`", column.name, row + 1, table.id))
        }
        known => into_script(known, &column.name),
    }
}

fn no_column(table: &Table, name: &str) -> Stop {
    let message = format!("the table `{}` has no column `{name}`", table.id);
    match nearest(name, table.columns.iter().map(|column| column.name.as_str())) {
        Some(near) => stop_with(Code::UnknownName, message, format!("did you mean `{near}`?")),
        None => stop(Code::UnknownName, message),
    }
}

fn found(a: &Arguments<'_, '_>, table: &Table) -> Result<Vec<usize>, Stop> {
    Ok(table.find(&wanted(a, table)?.iter().map(|(column, value)| (column.as_str(), value)).collect::<Vec<_>>()))
}

fn wanted(a: &Arguments<'_, '_>, table: &Table) -> Result<IndexMap<String, Value>, Stop> {
    let mut wanted = IndexMap::new();
    for (column, value) in a.record(1)? {
        if !table.columns.iter().any(|known| known.name == column.as_str()) {
            return Err(no_column(table, &column));
        }
        if let Operand::Absent(absent) = Operand::of(&value) {
            return Err(a.run.touch(&absent));
        }
        wanted.insert(column.to_string(), from_script(a.run, &value, &column)?);
    }
    Ok(wanted)
}

fn one_row(a: Arguments<'_, '_>) -> Answer {
    let table = named(&a)?;
    match found(&a, &table)?.as_slice() {
        [row] => Ok(record(&table, *row)),
        rows => {
            let wanted = wanted(&a, &table)?;
            let shown = |value: &Value| a.run.units.show_value(value, &a.run.style);
            let words: Vec<String> =
                wanted.iter().map(|(column, value)| format!("{column} {}", shown(value))).collect();
            let count = if rows.is_empty() { "no row".to_owned() } else { format!("{} rows", rows.len()) };
            let message = format!("the table `{}` has {count} with {}", table.id, words.join(", "));
            match wanted.iter().find_map(|(column, value)| near_text(&table, column, value)) {
                Some(near) if rows.is_empty() => {
                    Err(stop_with(Code::FaultyScript, message, format!("did you mean `{near}`?")))
                }
                _ => Err(stop(Code::FaultyScript, message)),
            }
        }
    }
}

fn near_text(table: &Table, column: &str, value: &Value) -> Option<String> {
    let Value::Text(text) = value else { return None };
    let all = table.column(column)?;
    let texts = all.iter().filter_map(|one| if let Value::Text(text) = one { Some(text.as_str()) } else { None });
    nearest(text, texts).filter(|near| near != text).map(str::to_owned)
}

fn measured(value: &Value) -> Option<Quantity> {
    match value {
        Value::Number(number) => Some(Quantity::number(*number)),
        Value::Quantity(quantity) => Some(quantity.clone()),
        _ => None,
    }
}

fn between(a: Arguments<'_, '_>) -> Answer {
    let (table, column, at) = (named(&a)?, a.text(1)?, a.quantity(2)?);
    let Some(values) = table.column(&column) else { return Err(no_column(&table, &column)) };
    let known: Vec<Quantity> = values.into_iter().filter_map(measured).collect();
    if known.len() != table.rows.len() || known.is_empty() {
        return Err(stop(
            Code::DimensionClash,
            format!("the column `{column}` of the table `{}` holds no numbers", table.id),
        ));
    }
    // One column has one unit, so that only the first must be asked whether it can be compared at all.
    a.run.units.compare(&at, &known[0]).map_err(faulty)?;
    if known.windows(2).any(|pair| pair[0].si >= pair[1].si) {
        return Err(stop(
            Code::FaultyScript,
            format!("the column `{column}` of the table `{}` does not rise", table.id),
        ));
    }
    if let Some(row) = known.iter().position(|one| close(one.si, at.si)) {
        return Ok(Dynamic::from_map(mixed(&table, row, row, 0.0)));
    }
    let above = known.partition_point(|one| one.si < at.si);
    if above == 0 || above == known.len() {
        let (first, last) = (a.run.shown(&known[0]), a.run.shown(&known[known.len() - 1]));
        let message =
            format!("{} lies outside the table `{}`, which goes from {first} to {last}", a.run.shown(&at), table.id);
        return Err(stop(Code::FaultyScript, message));
    }
    let (low, high) = (&known[above - 1], &known[above]);
    Ok(Dynamic::from_map(mixed(&table, above - 1, above, (at.si - low.si) / (high.si - low.si))))
}

/// The numbers of two rows, mixed; columns that hold none in one of them are left out.
fn mixed(table: &Table, low: usize, high: usize, share: f64) -> Map {
    let pairs = table.rows[low].values.iter().zip(&table.rows[high].values);
    let mut map = Map::new();
    for (column, (low, high)) in table.columns.iter().zip(pairs) {
        if let (Some(low), Some(high)) = (measured(low), measured(high)) {
            let si = if share == 0.0 { low.si } else { low.si + (high.si - low.si) * share };
            map.insert(column.name.as_str().into(), collapsed(Quantity { si, written: None, ..low }));
        }
    }
    map
}
