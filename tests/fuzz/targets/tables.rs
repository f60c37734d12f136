//! Tables: every cell of what was read lies in the text, and each row has a value for each column.

use standpipe::diagnostic::{Look, Problems, has_errors, human};
use standpipe::quantity::Units;
use standpipe::source::Source;
use standpipe::table::Table;
use standpipe::value::Value;

pub fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let units = Units::standard();
    let mut problems = Problems::new();
    let source = Source::new("table.csv", text);
    let table = Table::read("table", &source, &units, &mut problems);
    assert!(table.is_some() || has_errors(&problems), "refused without a word");
    human(&problems, Look { color: false, width: 80, folded: false });
    let Some(table) = table else { return };
    for (row, cells) in table.rows.iter().enumerate() {
        assert_eq!(cells.values.len(), table.columns.len());
        assert!(has_errors(&problems) || !cells.source.trim().is_empty(), "a row without a source");
        for (column, place) in table.columns.iter().zip(&cells.places) {
            assert!(place.range().end <= text.len());
            let Some(value) = table.value(row, &column.name) else { panic!("no {}", column.name) };
            if let Value::Quantity(quantity) = value {
                assert!(quantity.si.is_finite(), "{quantity:?}");
            }
            if !value.is_unknown() && !matches!(value, Value::Text(_)) {
                assert!(
                    table.find(&[(&column.name, value)]).contains(&row),
                    "a row that can't be found by its own value"
                );
            }
        }
    }
}
