//! Inputs as they stand on the command line: `name=value`, `name=@file.csv`.

use std::path::Path;

use indexmap::IndexMap;

use crate::diagnostic::{Code, Diagnostic, Problems, nearest};
use crate::library::read_file;
use crate::quantity::Units;
use crate::sheet::{Places, Sheet};
use crate::source::{Place, Source};
use crate::value::Value;

/// What was given, and where.
#[derive(Default)]
pub struct Given {
    pub values: IndexMap<String, Value>,
    pub places: Places,
}

/// Reads all of them; everything wrong goes into `problems`. The sheet itself is argument 1.
pub fn read(args: &[String], sheet_at: &Place, sheet: &Sheet, units: &Units, problems: &mut Problems) -> Given {
    let mut given = Given::default();
    given.places.whole = Some(sheet_at.clone());
    for (index, text) in args.iter().enumerate() {
        let source = Source::new(format!("<argument {}>", index + 2), text.as_str());
        let whole = Place::new(&source, 0..text.len());
        if let Err(problem) = one(text, &whole, sheet, units, &mut given, problems) {
            problems.push(*problem);
        }
    }
    given
}

fn one(
    text: &str,
    whole: &Place,
    sheet: &Sheet,
    units: &Units,
    given: &mut Given,
    problems: &mut Problems,
) -> Result<(), Box<Diagnostic>> {
    let Some((name, value)) = text.split_once('=') else {
        return Err(Box::new(
            Diagnostic::error(Code::A001, whole, format!("`{text}` is no name=value"))
                .expected("an input with its value, such as volume=\"7 L\"")
                .help("put quotes around a value with a space in it"),
        ));
    };
    let (name_at, value_at) = (whole.slice(0..name.len()), whole.slice(name.len() + 1..text.len()));
    let name = name.trim();
    let input = match sheet.input(name, &name_at) {
        Ok(input) => input,
        Err(problem) => {
            // What was misspelt is not missing as well.
            if let Some(meant) = nearest(name, sheet.inputs.keys().map(String::as_str)) {
                given.values.entry(meant.to_owned()).or_insert(Value::Unknown);
            }
            return Err(problem);
        }
    };
    let file = value.trim().strip_prefix('@');
    let read = match file {
        Some(_) if !input.list => {
            let message = format!("a file can't stand for `{name}`, which is {}", input.described());
            Err(Box::new(Diagnostic::error(Code::H002, &value_at, message)))
        }
        Some(path) => match read_file(Path::new(path.trim()), problems) {
            Some(source) => input.read_series(name, &source, units),
            None => Ok(Value::Unknown),
        },
        None => input.read_text(value, None, units, &value_at),
    };
    let (read, problem) = match read {
        Ok(read) => (read, None),
        // It was given, so it is not called missing as well.
        Err(problem) => (Value::Unknown, Some(problem)),
    };
    if let Some(before) = given.places.inputs.get(name) {
        let also = before.clone();
        match (given.values.get_mut(name), read) {
            (Some(Value::List(items)), Value::List(more)) => items.extend(more),
            _ if problem.is_some() => {}
            _ => {
                let problem = Diagnostic::error(Code::A001, &value_at, format!("`{name}` is given twice"));
                return Err(Box::new(problem.also(&also, "the first time")));
            }
        }
        return problem.map_or(Ok(()), Err);
    }
    given.places.inputs.insert(name.to_owned(), value_at);
    given.values.insert(name.to_owned(), read);
    problem.map_or(Ok(()), Err)
}
