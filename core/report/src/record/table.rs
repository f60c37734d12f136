//! A line for each job, for the table of a fleet.

use std::sync::Arc;

use indexmap::IndexMap;

use super::RecordView;
use crate::sheet::{csv, text};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};

const OF_EVERY_JOB: [&str; 16] = [
    "job",
    "subject",
    "family",
    "variant",
    "procedure",
    "state",
    "checked",
    "begun",
    "last entry",
    "gates met",
    "not met",
    "not shown",
    "accepted",
    "left open",
    "invented",
    "simulated",
];

/// What the procedures of the jobs tell stands behind what every job has; numbers are in the unit of the heading.
pub fn table(records: &[(RecordView, Arc<Units>)]) -> String {
    let told: Vec<IndexMap<&str, Cell>> = records.iter().map(|(record, units)| told(record, units)).collect();
    // A job that lacks a value does not know its unit either.
    let mut further: IndexMap<&str, String> = IndexMap::new();
    for (name, cell) in told.iter().flatten() {
        let unit = further.entry(name).or_default();
        if unit.is_empty() {
            unit.clone_from(&cell.unit);
        }
    }
    let headed = further.iter().map(|(name, unit)| match unit.is_empty() {
        true => (*name).to_owned(),
        false => format!("{name} [{unit}]"),
    });
    let heading = OF_EVERY_JOB.iter().map(|name| (*name).to_owned()).chain(headed).chain(["seal".to_owned()]);
    let mut rows = vec![heading.collect::<Vec<_>>()];
    for ((record, _), told) in records.iter().zip(&told) {
        let mut row = of_every_job(record);
        row.extend(further.keys().map(|name| told.get(name).map(|cell| cell.text.clone()).unwrap_or_default()));
        row.push(record.made_with.seal.clone().unwrap_or_default());
        rows.push(row);
    }
    csv(&rows)
}

fn of_every_job(record: &RecordView) -> Vec<String> {
    let outcome = &record.outcome;
    let at = |at: Option<standpipe_job::Moment>| at.map(|at| at.to_string()).unwrap_or_default();
    vec![
        text(&record.job),
        text(&record.subject),
        record.family.id.clone(),
        record.variant.clone().unwrap_or_default(),
        record.procedure.id.clone(),
        outcome.state.to_owned(),
        record.checked.as_ref().map(|checked| checked.verdict.words()).unwrap_or_default().to_owned(),
        at(outcome.begun),
        at(record.made_with.last_entry),
        outcome.gates_met.to_string(),
        outcome.gates_not_met.to_string(),
        outcome.gates_not_shown.to_string(),
        outcome.gates_accepted.to_string(),
        record.left_open.len().to_string(),
        if record.invented { "yes" } else { "no" }.to_owned(),
        if record.simulated.is_some() { "yes" } else { "no" }.to_owned(),
    ]
}

struct Cell {
    unit: String,
    text: String,
}

fn told<'a>(record: &'a RecordView, units: &Units) -> IndexMap<&'a str, Cell> {
    record.told.iter().map(|named| (named.name.as_str(), cell(&named.value, &named.shown, units))).collect()
}

/// A number in the metric unit of its quantity, whatever unit it was written in: a column has one unit.
fn cell(value: &Value, shown: &str, units: &Units) -> Cell {
    match value {
        Value::Quantity(quantity) => {
            let (number, unit) = units.plain(&Quantity { written: None, ..quantity.clone() });
            Cell { unit, text: figure(number) }
        }
        Value::Number(number) => Cell { unit: String::new(), text: figure(*number) },
        Value::Unknown => Cell { unit: String::new(), text: String::new() },
        _ => Cell { unit: String::new(), text: text(shown) },
    }
}

/// Six digits: more than any reading has, and none of the dust of a conversion.
fn figure(number: f64) -> String {
    format!("{number:.5e}").parse::<f64>().unwrap_or(number).to_string()
}
