//! A calculation for programs: JSON, and one row of CSV.

use serde_json::{Map, Value as Json, json};

use super::{Desk, Done, SCHEMA, shown};
use crate::cli::Exit;
use crate::diagnostic::{Diagnostic, json as problems_json};
use crate::sheet::{Heading, cell};
use crate::value::Value;

pub fn json(done: &Done, desk: &Desk, exit: Exit, problems: &[Diagnostic]) -> Json {
    let (units, style, sheet) = (&*desk.units, &desk.shop.style, &desk.sheet);
    let inputs = done.given.iter().map(|(name, value)| {
        let mut input = shown::json(value, None, &shown::input(value, units, style), units);
        if let (true, Some(fields)) = (done.defaults.contains(name), input.as_object_mut()) {
            fields.insert("default".to_owned(), json!(true));
        }
        (name.clone(), input)
    });
    let mut whole = json!({
        "schema": SCHEMA,
        "ok": exit == Exit::Well,
        "sheet": sheet.id,
        "title": sheet.title,
        "invented": sheet.invented,
        "inputs": inputs.collect::<Map<_, _>>(),
    });
    let Some(fields) = whole.as_object_mut() else { return whole };
    if !done.steps.is_empty() {
        let steps = done.steps.iter();
        let steps = steps
            .map(|(name, value)| (name.clone(), shown::json(value, None, &shown::step(value, units, style), units)));
        fields.insert("steps".to_owned(), Json::Object(steps.collect()));
    }
    if let Some(outcome) = &done.outcome {
        let outputs = outcome.outputs.iter().map(|(name, value)| {
            let output = &sheet.outputs[name];
            let text = shown::output(value, output, units, style);
            (name.clone(), shown::json(value, output.unit.as_deref(), &text, units))
        });
        fields.insert("outputs".to_owned(), Json::Object(outputs.collect()));
        fields.insert("warnings".to_owned(), json!(outcome.warnings));
    }
    fields.insert("formula".to_owned(), json!(sheet.formula));
    fields.insert("source".to_owned(), json!(sheet.source));
    fields.insert("holds".to_owned(), json!(sheet.holds));
    fields.insert("cautions".to_owned(), json!(sheet.cautions));
    fields.insert("problems".to_owned(), problems_json(problems));
    whole
}

/// Inputs and results as the table of one row that `--table` would have made.
pub fn csv(done: &Done, desk: &Desk) -> String {
    let Some(outcome) = &done.outcome else { return String::new() };
    let (mut headings, mut cells) = (Vec::new(), Vec::new());
    for (name, value) in &done.given {
        let unit = match value {
            Value::Quantity(quantity) => Some(desk.units.plain(quantity).1).filter(|unit| !unit.is_empty()),
            _ => None,
        };
        cells.push(cell(value, unit.as_deref(), &desk.units));
        headings.push(desk.sheet.given_heading(&Heading { name: name.clone(), unit }));
    }
    for (name, value) in &outcome.outputs {
        let output = &desk.sheet.outputs[name];
        headings.push(output.heading(name));
        cells.push(cell(value, output.unit.as_deref(), &desk.units));
    }
    headings.push("warnings".to_owned());
    cells.push(outcome.warnings.join("; "));
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing into memory does not fail.
    let _ = writer.write_record(&headings).and_then(|()| writer.write_record(&cells));
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}
