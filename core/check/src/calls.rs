//! Calls of sheets from steps: what they are handed against what they take.

use super::shapes;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_procedure::learned::READINGS;
use standpipe_quantity::Units;
use standpipe_script::Shape;
use standpipe_sheet::{self as sheet, Sheet};
use standpipe_yaml::At;

pub fn check(
    sheet: &Sheet,
    named: &At<String>,
    given: &[(&String, &Place, Shape)],
    units: &Units,
    problems: &mut Problems,
) {
    for (name, place, shape) in given {
        match sheet.inputs.get(name.as_str()) {
            Some(input) => {
                let wanted = shapes::of_sheet(&input.shape, units);
                // One entry is taken for a list of one.
                let handed = match (input.list, shape) {
                    (true, Shape::List(one)) => one,
                    (_, shape) => shape,
                };
                if let Some(message) = clash(handed, &wanted, units) {
                    problems.push(
                        Diagnostic::error(Code::DimensionClash, place, format!("the input `{name}` {message}"))
                            .also(&input.place, "as the sheet declares it"),
                    );
                }
            }
            None => {
                let message = format!("the sheet `{}` has no input `{name}`", sheet.id);
                let known: Vec<&str> = sheet.inputs.keys().map(String::as_str).collect();
                let problem = Diagnostic::error(Code::FaultyInput, place, message)
                    .expected(format!("one of: {}", known.join(", ")));
                problems.push(problem.nearest(name, known, "leave it out"));
            }
        }
    }
    let near = |name: &str| nearest(name, sheet.inputs.keys().map(String::as_str)).map(str::to_owned);
    let unknown = given.iter().filter(|(name, ..)| !sheet.inputs.contains_key(name.as_str()));
    let meant: Vec<String> = unknown.filter_map(|(name, ..)| near(name)).collect();
    let missing: Vec<&str> = sheet
        .inputs
        .keys()
        .filter(|name| !sheet.is_optional(name) && !given.iter().any(|(given, ..)| *given == *name))
        .filter(|name| !meant.contains(name))
        .map(String::as_str)
        .collect();
    if let Some(first) = missing.first() {
        let message = format!("the sheet `{}` also needs {}", sheet.id, missing.join(", "));
        problems.push(
            Diagnostic::error(Code::FaultyInput, &named.place, message)
                .also(&sheet.inputs[*first].place, "declared here")
                .help(format!("add e.g. `{first}: ...` under `with:`")),
        );
    }
}

/// Only what can never fit; whether it does is seen when it runs.
fn clash(given: &Shape, wanted: &Shape, units: &Units) -> Option<String> {
    let fits = match (given, wanted) {
        (Shape::Any, _) | (_, Shape::Any) => true,
        (Shape::Quantity(a), Shape::Quantity(b) | Shape::Range(b)) | (Shape::Range(a), Shape::Range(b)) => {
            units.compare(&a.sample, &b.sample).is_ok()
        }
        (Shape::Text(Some(a)), Shape::Text(Some(b))) => a.iter().any(|text| b.contains(text)),
        (Shape::Text(_), Shape::Text(_)) | (Shape::Truth(_), Shape::Truth(_)) => true,
        // A plain value can stand for the record that it is the main entry of.
        (Shape::Quantity(_) | Shape::Record(_), Shape::Record(_)) => true,
        _ => false,
    };
    (!fits).then(|| format!("is {}, and the sheet takes {}", given.described(units), wanted.described(units)))
}

/// A sheet that says in which order an `each` goes.
pub fn order(sheet: &Sheet, named: &At<String>, problems: &mut Problems) {
    let wrong =
        |message: String| Diagnostic::error(Code::FaultyInput, &named.place, message).also(&sheet.place, "this sheet");
    if !sheet.inputs.contains_key("count") {
        problems.push(
            wrong(format!("`{}` can't give an order: it has no input `count`", sheet.id))
                .expected("a sheet that takes `count` and may take `pattern`"),
        );
    }
    let handed = ["count", "pattern"];
    let more: Vec<&str> = sheet
        .inputs
        .keys()
        .map(String::as_str)
        .filter(|name| !sheet.is_optional(name) && !handed.contains(name))
        .collect();
    if !more.is_empty() {
        problems.push(
            wrong(format!("`{}` can't give an order: it also needs {}", sheet.id, more.join(", ")))
                .expected("a sheet that takes `count` and may take `pattern`"),
        );
    }
    if !sheet.outputs.contains_key("order") {
        problems.push(
            wrong(format!("`{}` can't give an order: it has no output `order`", sheet.id))
                .expected("a list `order` of numbers, counted from 1"),
        );
    }
}

/// Whether it takes readings: a list of records of a time and a value.
pub fn takes_readings(sheet: &Sheet, named: &At<String>, problems: &mut Problems) {
    let readings = sheet.inputs.get(READINGS);
    let pairs = readings
        .is_some_and(|input| matches!(&input.shape, sheet::Shape::Record(parts) if input.list && parts.len() == 2));
    if !pairs {
        let message = format!("`{}` can't forecast from readings: it has no such input `{READINGS}`", sheet.id);
        problems.push(
            Diagnostic::error(Code::FaultyInput, &named.place, message)
                .also(&sheet.place, "this sheet")
                .expected("a list `readings` of records with two entries, the time first"),
        );
    }
}

/// A sheet that tells from readings when a range is reached and left.
pub fn forecast(sheet: &Sheet, named: &At<String>, problems: &mut Problems) {
    takes_readings(sheet, named, problems);
    let mut wrong = |message: String, expected: &str| {
        let problem = Diagnostic::error(Code::FaultyInput, &named.place, message).also(&sheet.place, "this sheet");
        problems.push(problem.expected(expected));
    };
    let handed = [READINGS, "low", "high"];
    for name in handed.into_iter().filter(|name| !sheet.inputs.contains_key(*name)) {
        wrong(
            format!("`{}` can't forecast for a range: it has no input `{name}`", sheet.id),
            "the inputs `low` and `high`",
        );
    }
    let more: Vec<&str> = sheet.inputs.keys().map(String::as_str).collect();
    for name in more.into_iter().filter(|name| !sheet.is_optional(name) && !handed.contains(name)) {
        wrong(
            format!("`{}` also needs `{name}`, which a step that waits does not have", sheet.id),
            "a sheet that takes `readings`, `low` and `high`, and has a default for all else",
        );
    }
    for name in ["verdict", "opens", "closes", "rate"].into_iter().filter(|name| !sheet.outputs.contains_key(*name)) {
        wrong(
            format!("`{}` gives no `{name}`", sheet.id),
            "a text `verdict`, records `opens` and `closes` with earliest, likely and latest, and a `rate`",
        );
    }
}
