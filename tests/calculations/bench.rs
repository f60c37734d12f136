//! Running a sheet as from a command line, and the rows of the reference tables.

use std::collections::HashMap;

use indexmap::IndexMap;
use standpipe::library::{Files, Kind};
use standpipe::plan::Parsed;
use standpipe::script::{Fault, Scripts};
use standpipe::sheet::{Outcome, Sheet};
use standpipe::source::{Place, Source};
use standpipe::value::Value;

pub struct Bench {
    pub parsed: Parsed,
    pub scripts: Scripts,
}

impl Bench {
    pub fn new() -> Self {
        let mut problems = Vec::new();
        let parsed = Parsed::new(Files::built_in(), &mut problems);
        assert!(problems.is_empty(), "{problems:?}");
        let scripts = parsed.scripts();
        Self { parsed, scripts }
    }

    pub fn sheet(&self, id: &str) -> Sheet {
        let mut problems = Vec::new();
        let document = self.parsed.library.document(Kind::Sheet, id).unwrap_or_else(|| panic!("no sheet {id}"));
        let sheet = Sheet::read(&document.source, &document.plugin, &self.parsed.units, &mut problems);
        sheet.unwrap_or_else(|| panic!("{id}: {problems:?}"))
    }

    /// Runs a sheet on inputs as they would be written on a command line.
    pub fn try_run(&self, id: &str, given: &[(&str, &str)]) -> Result<Outcome, Fault> {
        let sheet = self.sheet(id);
        let mut inputs = IndexMap::new();
        for (name, text) in given {
            let input = sheet.inputs.get(*name).unwrap_or_else(|| panic!("{id} has no input {name}"));
            let place = Place::whole(&Source::new("<test>", *text));
            let value = input.read_text(text, None, &self.parsed.units, &place);
            inputs.insert((*name).to_owned(), value.map_err(Fault::Failed)?);
        }
        sheet.run(&self.scripts, inputs)
    }

    pub fn run(&self, id: &str, given: &[(&str, &str)]) -> Outcome {
        self.try_run(id, given).unwrap_or_else(|fault| panic!("{id} {given:?}: {fault:?}"))
    }

    /// The number of one output in a unit.
    pub fn number(&self, outcome: &Outcome, name: &str, unit: &str) -> f64 {
        match &outcome.outputs[name] {
            Value::Number(number) => *number,
            Value::Quantity(quantity) => self.parsed.units.convert(quantity, unit).expect("a unit that fits"),
            other => panic!("{name} is {other:?}"),
        }
    }

    #[track_caller]
    pub fn refused(&self, id: &str, given: &[(&str, &str)], code: &str) {
        match self.try_run(id, given) {
            Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code.name(), code, "{}", diagnostic.message),
            other => panic!("{id} {given:?} gives {other:?}"),
        }
    }
}

pub type Row = HashMap<String, String>;

/// Rows of a reference table; lines are counted so that a shortened table is noticed.
pub fn rows(file: &str, at_least: usize) -> Vec<Row> {
    let path = format!("{}/tests/reference/{file}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(&path).expect("the reference table");
    let rows: Vec<Row> = reader.deserialize().collect::<Result<_, _>>().expect("sound rows");
    assert!(rows.len() >= at_least, "{file} has only {} rows", rows.len());
    rows
}

pub fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

#[track_caller]
pub fn near(found: f64, expected: f64, relative: f64, what: &dyn std::fmt::Debug) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} instead of {expected}: {what:?}");
}
