//! Values that were taken from a reader or a log: do the rows that were kept show them?

use std::path::Path;

use super::point::Point;
use standpipe_job::journal::evidence;
use standpipe_job::plan::Plan;
use standpipe_job::{Address, Event, ReadFrom, Record, TakenFrom};
use standpipe_log::Choices;
use standpipe_quantity::value::Value;
use standpipe_stream::{Kept, as_typed, columns, limits};

pub(super) fn point(plan: &Plan, records: &[Record], folder: &Path, file: &str) -> Option<Point> {
    let mut point = Point::new("readings", file);
    for record in records {
        let Event::Entered { address, values, typed, read: Some(read), .. } = &record.event else { continue };
        for (name, taken) in &read.values {
            point.looked_at += 1;
            let value = Entered { name, value: values.get(name), typed: typed.get(name).map(String::as_str) };
            let of = format!("`{name}`, from {} {}", if read.log { "the log" } else { "the reader" }, read.rows.name);
            match again(plan, record, address, (read, taken), &value, folder) {
                Ok(None) => {}
                Ok(Some(difference)) => point.fails(record.seq, format!("{of}: {difference}")),
                Err(why) => point.unshown(record.seq, format!("{of}, can't be read again: {why}")),
            }
        }
    }
    (point.looked_at > 0).then_some(point)
}

struct Entered<'a> {
    name: &'a str,
    value: Option<&'a Value>,
    typed: Option<&'a str>,
}

/// What the rows show otherwise than it was entered. Errors: rows that can't be read.
fn again(
    plan: &Plan,
    record: &Record,
    address: &Address,
    (read, taken): (&ReadFrom, &TakenFrom),
    entered: &Entered<'_>,
    folder: &Path,
) -> Result<Option<String>, String> {
    let fields = plan.step(&address.step).map(|step| step.kind.fields()).unwrap_or_default();
    let of_field =
        fields.iter().find(|field| field.name.as_str() == entered.name).and_then(|field| field.instrument.as_ref());
    let of_column = columns(plan).into_iter().find(|column| column.name == taken.column).and_then(|column| column.with);
    let with = of_column.or_else(|| of_field.map(|kind| kind.value.clone()));
    let kept = Kept {
        column: &taken.column,
        quantity: &taken.quantity,
        choices: Choices::of_written(&read.said).ok_or("what was said about the rows is not understood")?,
        units: &plan.units,
        limits: limits(plan, with.as_deref()),
    };
    // Rows that counted when they came have only their own time.
    let second = match (read.zero, taken.row) {
        (Some(zero), _) => record.at.duration_since(zero).as_secs_f64(),
        (None, Some(row)) => row,
        (None, None) => return Err("nothing says when".to_owned()),
    };
    let (watch, scale) = kept.at(evidence::open(folder, &read.rows)?, second)?;
    let Some(row) = taken.row else {
        let Some(Value::Quantity(held)) = entered.value else { return Ok(Some("no time was held".to_owned())) };
        let (whole, gap) = watch.covers(second - held.si, second);
        return Ok((!whole).then(|| format!("the rows have a gap of {gap:.0} s in the time that was held")));
    };
    Ok(match watch.now(second) {
        Err(why) => Some(format!("the rows show nothing then: {why}")),
        Ok(reading) if reading.at != row => Some(format!("the rows have another one after it, at {} s", reading.at)),
        Ok(reading) => {
            let shown = as_typed(&plan.units, &scale, &reading, &watch);
            (!entered.typed.is_some_and(|typed| is_same(typed, &shown)))
                .then(|| format!("the rows show {shown}, entered was {}", entered.typed.unwrap_or("nothing")))
        }
    })
}

/// The same number with the same unit: how many decimals it was given goes by what else a reader had sent by then.
fn is_same(typed: &str, shown: &str) -> bool {
    let parts = |text: &str| {
        let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
        Some((number.parse::<f64>().ok()?, unit.to_owned()))
    };
    parts(typed).is_some_and(|typed| parts(shown) == Some(typed))
}
