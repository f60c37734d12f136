use super::*;
use crate::Units;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Problems, short};

const GOOD: &str = "\u{feff}# title: Springs
# invented: true
# source: made up
name,wire [mm],turns [1],load at-rest [N],note,source

soft,0.8,12,3..4,\"says \"\"go\"\", twice\",
 hard , 1.2 ,9,\"6\",,measured
odd,1/16 in,,unknown,\"two
lines\",
";

fn read(text: &str) -> (Option<Table>, Problems) {
    let mut problems = Problems::new();
    let table = Table::read("springs", &Source::new("springs.csv", text), &Units::standard(), &mut problems);
    (table, problems)
}

fn quantity(text: &str) -> Value {
    Units::standard().read(text, None, None).expect("a quantity")
}

#[test]
fn cells_become_values_with_their_places() {
    let (table, problems) = read(&GOOD.replace("1/16 in", "0.0625 in"));
    assert!(problems.is_empty(), "{}", short(&problems));
    let table = table.expect("a table");
    let names: Vec<_> = table.columns.iter().map(|column| (column.name.as_str(), column.unit.as_deref())).collect();
    let expected =
        [("name", None), ("wire", Some("mm")), ("turns", Some("1")), ("load_at_rest", Some("N")), ("note", None)];
    assert_eq!(names, expected);
    assert_eq!((table.title.as_deref(), table.invented), (Some("Springs"), true));
    assert_eq!(table.value(0, "wire"), Some(&quantity("0.8 mm")));
    assert_eq!(table.value(0, "turns"), Some(&Value::Number(12.0)));
    assert!(matches!(table.value(0, "load_at_rest"), Some(Value::Range(..))));
    assert_eq!(table.value(0, "note"), Some(&Value::Text("says \"go\", twice".into())));
    assert_eq!(table.value(2, "turns"), Some(&Value::Unknown));
    assert_eq!(table.value(2, "note"), Some(&Value::Text("two\nlines".into())));
    // computed: 1 in is 25.4 mm by definition
    assert_eq!(table.find(&[("wire", &quantity("1.5875 mm"))]), [2]);
    assert_eq!(table.find(&[("name", &Value::Text("hard".into())), ("turns", &Value::Number(9.0))]), [1]);
    assert!(
        table.find(&[("turns", &Value::Unknown)]).is_empty()
            && table.find(&[("depth", &Value::Number(1.0))]).is_empty()
    );
    assert_eq!(
        table.rows.iter().map(|row| row.source.as_str()).collect::<Vec<_>>(),
        ["made up", "measured", "made up"]
    );
    assert_eq!(table.rows[1].places[1].to_string(), "springs.csv:7:9");
    assert_eq!(table.column("turns").map(|column| column.len()), Some(3));
    let Value::List(records) = table.records() else { panic!() };
    assert_eq!(records[1].at(&["name"]), Some(&Value::Text("hard".into())));
}

#[test]
fn faults_are_told_at_their_cell() {
    let cases = [
        ("", "1:1: error, faulty-table: a table without a heading"),
        ("# source: x\nname\n", "2:1: warning, faulty-table: a table without rows"),
        ("name,wire [mm]\na,1\n", "1:1: error, missing-source: the table does not say where it is from"),
        ("name,source\na,x\nb,\n", "3:1: error, missing-source: this row does not say where it is from"),
        ("# source: x\nname,wire [mn]\na,1\n", "2:6: error, faulty-table: "),
        ("# source: x\nname,wire [gal]\na,1\n", "2:6: error, faulty-table: "),
        ("# source: x\nname,wire [mm\na,1\n", "2:6: error, faulty-table: the bracket around the unit is not closed"),
        ("# source: x\nname,Name\na,1\n", "2:6: error, faulty-table: `Name` can't be used as a name in scripts"),
        ("# source: x\nname,name\na,1\n", "2:6: error, faulty-table: a second column `name`"),
        ("# source: x\nname,wire [mm]\na,1\nb\n", "4:1: error, faulty-table: 1 cells in this row, 2 in the heading"),
        ("# source: x\nname,wire [mm]\na,thick\n", "3:3: error, faulty-table: "),
        ("# source: x\nname,wire [mm]\na,3 kg\n", "3:3: error, faulty-table: `kg` is a unit of mass"),
        ("# source: x\nname,turns [1]\na,3 kg\n", "3:3: error, faulty-table: `3 kg` is not a plain number"),
        ("# source: x\nname,wire [mm]\na,\"1\n", "3:3: error, faulty-table: a cell whose quotes are never closed"),
        ("# source: x\nname,wire [mm]\n\"a\" b,1\n", "3:4: error, faulty-table: text after the closing quote"),
        ("# sorce: x\nname,source\na,b\n", "1:1: warning, faulty-table: nothing reads `sorce`"),
        ("# override: yes\n# source: x\nname\na\n", "1:1: error, faulty-table: `override` is neither true nor false"),
    ];
    for (text, expected) in cases {
        let (_, problems) = read(text);
        let found = short(&problems);
        assert!(found.lines().any(|line| line.starts_with(&format!("springs.csv:{expected}"))), "{text}\n{found}");
        assert!(problems.iter().all(|problem| problem.help.is_some()), "{found}");
    }
}

#[test]
fn cut_off_tables_never_panic() {
    for (end, _) in GOOD.char_indices() {
        let (_, problems) = read(&GOOD[..end]);
        short(&problems);
        let (_, problems) = read(&GOOD[end..]);
        short(&problems);
    }
}

/// What is said of a table is bounded, however large and however wrong it is.
#[test]
fn huge_tables_get_few_messages() {
    let heading = |count: usize| (0..count).map(|n| format!("c{n} [mm]")).collect::<Vec<_>>().join(",");
    let wide = format!("# source: x\n{}\n", heading(100_000));
    let (table, problems) = read(&wide);
    assert!(table.is_none());
    assert_eq!(problems.len(), 1, "{}", short(&problems));
    let same = format!("# source: x\n{}\n", vec!["c [mm]"; 1_000].join(","));
    assert_eq!(read(&same).1.iter().filter(|problem| problem.message.contains("a second column")).count(), 999);
    let faulty = format!("# source: x\na [mm]\n{}", "wrong\n".repeat(100_000));
    assert!(read(&faulty).1.len() < 300);
    let (table, problems) = read(&format!("# source: x\n{}\n{}\n", heading(1_000), vec!["1"; 1_000].join(",")));
    assert!(table.is_some(), "{}", short(&problems));
}
