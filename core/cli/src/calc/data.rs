//! A calculation for programs: JSON, and one row of CSV.

use serde_json::{Map, Value as Json, json};

use super::{Desk, Done, SCHEMA, shown};
use crate::Exit;
use standpipe_diagnostic::{Diagnostic, json as problems_json};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_sheet::uncertainty::{Found, Propagated};
use standpipe_sheet::{Heading, cell};

pub fn json(done: &Done, desk: &Desk, exit: Exit, problems: &[Diagnostic]) -> Json {
    let (units, style, sheet) = (&*desk.units, &desk.shop.style, &desk.sheet);
    let inputs = done.given.iter().map(|(name, value)| {
        let mut input = shown::json(value, None, &shown::input(value, units, style), units);
        if let Some(fields) = input.as_object_mut() {
            if done.defaults.contains(name) {
                fields.insert("default".to_owned(), json!(true));
            }
            if let Some(standard) = shown::standard(name, value, done, units) {
                fields.insert("standard_uncertainty".to_owned(), json!(standard));
            }
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
            let mut json = shown::json(value, output.unit.as_deref(), &text, units);
            if let Some(found) = &done.uncertain {
                add_uncertainty(&mut json, name, value, found, desk);
            }
            (name.clone(), json)
        });
        fields.insert("outputs".to_owned(), Json::Object(outputs.collect()));
        fields.insert("warnings".to_owned(), json!(outcome.warnings));
    }
    if let Some(found) = &done.uncertain {
        let (warned, first) = &found.warned;
        fields.insert(
            "uncertainty".to_owned(),
            json!({
                "method": "Monte Carlo, JCGM 101:2008; inputs independent of one another",
                "trials": found.trials, "seed": done.seed, "settled": found.settled, "level": 0.95,
                "trials_with_warning": warned, "first_warning": first,
            }),
        );
    }
    fields.insert("formula".to_owned(), json!(sheet.formula));
    fields.insert("source".to_owned(), json!(sheet.source));
    fields.insert("holds".to_owned(), json!(sheet.holds));
    fields.insert("cautions".to_owned(), json!(sheet.cautions));
    fields.insert("problems".to_owned(), problems_json(problems));
    whole
}

/// Beside a number `uncertainty`, in the unit of the number; a text becomes `{text, shares}`.
fn add_uncertainty(json: &mut Json, name: &str, value: &Value, found: &Propagated, desk: &Desk) {
    let output = &desk.sheet.outputs[name];
    match found.outputs.get(name) {
        Some(Found::Number { mean, uncertain }) => {
            let Some(quantity) = shown::quantity(value) else { return };
            let at = |si: f64| {
                let other = Quantity { si, written: None, ..quantity.clone() };
                output.unit.as_deref().and_then(|unit| desk.units.convert(&other, unit).ok()).unwrap_or(si)
            };
            let factor = shown::factor(output, &desk.units);
            let parts = found.contributions.get(name).into_iter().flatten();
            let parts: Map<_, _> = parts.map(|(input, part)| (input.clone(), json!(part / factor))).collect();
            if let Some(fields) = json.as_object_mut() {
                fields.insert(
                    "uncertainty".to_owned(),
                    json!({
                        "standard": uncertain.standard / factor, "low": at(uncertain.low), "high": at(uncertain.high),
                        "mean": at(*mean), "shown": shown::uncertain(name, value, found, desk), "contributions": parts,
                    }),
                );
            }
        }
        Some(Found::Shares(shares)) => {
            let shares: Map<_, _> = shares.iter().map(|(text, share)| (text.clone(), json!(share))).collect();
            *json = json!({ "value": json.take(), "shares": shares });
        }
        None => {}
    }
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
        let found = done.uncertain.as_ref().and_then(|found| found.outputs.get(name));
        if let Some(Found::Number { uncertain, .. }) = found {
            let factor = shown::factor(output, &desk.units);
            headings.push(output.heading(&format!("u({name})")));
            cells.push((uncertain.standard / factor).to_string());
        }
    }
    headings.push("warnings".to_owned());
    cells.push(outcome.warnings.join("; "));
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing into memory does not fail.
    let _ = writer.write_record(&headings).and_then(|()| writer.write_record(&cells));
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}
