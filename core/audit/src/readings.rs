//! Values that were taken from a reader or a log: do the rows that were kept show them?
//!
//! What claims to come from rows has to say which, and when. A claim without them is not shown; rows that say something
//! else refute it.

use std::path::Path;

use jiff::civil::Time;

use super::point::Point;
use standpipe_job::journal::evidence;
use standpipe_job::plan::Plan;
use standpipe_job::said::Remark;
use standpipe_job::{Address, Event, Origin, ReadFrom, Record, TakenFrom};
use standpipe_log::{Choices, TimeForm};
use standpipe_procedure::HELD;
use standpipe_quantity::value::Value;
use standpipe_stream::{Kept, Then, as_typed, columns, limits};

pub(super) fn point(plan: &Plan, records: &[Record], folder: &Path, file: &str) -> Option<Point> {
    let mut point = Point::new("readings", file);
    for record in records {
        let Event::Entered { address, values, typed, read, remarks, .. } = &record.event else {
            origin(record, &mut point);
            continue;
        };
        let taken = read.as_deref().map(|read| &read.values);
        let is_taken = |name: &String| taken.is_some_and(|taken| taken.contains_key(name));
        // One that took all of its values from rows is of the origin `log`, and no other.
        if record.origin == Origin::Log {
            for name in typed.keys().filter(|name| !is_taken(name)) {
                point.looked_at += 1;
                point.unshown(record.seq, format!("`{name}` is said to come from rows, and nothing says from which"));
            }
        } else if !typed.is_empty() && typed.keys().all(is_taken) {
            point.fails(
                record.seq,
                format!("all values of `{address}` come from rows, and somebody is said to have entered them"),
            );
        }
        if taken.is_none_or(|taken| taken.is_empty()) && record.origin != Origin::Log && claims(remarks) {
            point.looked_at += 1;
            point.unshown(record.seq, format!("a remark of `{address}` mentions rows, and nothing says which"));
        }
        let Some(read) = read else { continue };
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

/// What nobody enters is of a reader or a log, and what somebody decides is not.
fn origin(record: &Record, point: &mut Point) {
    let of_rows = matches!(record.event, Event::Stream { .. } | Event::LogKept(_));
    let follows = matches!(
        record.event,
        Event::Settled { .. }
            | Event::Computed { .. }
            | Event::Judged { .. }
            | Event::Ended { .. }
            | Event::RoundEnded { .. }
            | Event::Undone { .. }
            | Event::Recognised { .. }
            | Event::Blocked { .. }
            | Event::Faulted { .. }
            | Event::Contradicted { .. }
            | Event::Returned { .. }
            | Event::Paused { .. }
            | Event::WentOn { .. }
            | Event::Recovered { .. }
            | Event::Finished
    );
    let fault = match record.origin == Origin::Log {
        true if !of_rows && !follows => "it is of a person, and a reader or a log is said to have given it",
        false if of_rows => "it is of a reader or a log, and somebody is said to have entered it",
        _ => return,
    };
    point.looked_at += 1;
    point.fails(record.seq, fault);
}

fn claims(remarks: &[Remark]) -> bool {
    remarks.iter().any(|remark| matches!(remark, Remark::FromLog(_) | Remark::FromReader))
}

struct Entered<'a> {
    name: &'a str,
    value: Option<&'a Value>,
    typed: Option<&'a str>,
}

/// What the rows show otherwise than it was entered. Errors: rows that can't be read, or a claim that says too little.
fn again(
    plan: &Plan,
    record: &Record,
    address: &Address,
    (read, taken): (&ReadFrom, &TakenFrom),
    entered: &Entered<'_>,
    folder: &Path,
) -> Result<Option<String>, String> {
    let fields = plan.step(&address.step).map(|step| step.kind.fields()).unwrap_or_default();
    let field = fields.iter().find(|field| field.name.as_str() == entered.name);
    let of_field = field.and_then(|field| field.instrument.as_ref());
    let of_column = columns(plan).into_iter().find(|column| column.name == taken.column).and_then(|column| column.with);
    let with = of_column.or_else(|| of_field.map(|kind| kind.value.clone()));
    let kept = Kept {
        column: &taken.column,
        quantity: &taken.quantity,
        choices: Choices::of_written(&read.said).ok_or("what was said about the rows is not understood")?,
        units: &plan.units,
        limits: limits(plan, with.as_deref()),
    };
    // It is asked only once its time is known, so that it is among the fields of no step.
    let held = field.is_none() && entered.name == HELD;
    // Rows that counted when they came have only their own time.
    let second = match (read.zero, taken.row) {
        (_, None) if !held => return Err("it does not say which row".to_owned()),
        (Some(zero), _) => record.at.duration_since(zero).as_secs_f64(),
        (None, Some(row)) if !read.log && read.rows.of.is_some() => row,
        (None, _) => return Err("nothing says when the rows begin".to_owned()),
    };
    let then = kept.at(evidence::open(folder, &read.rows)?, second)?;
    if let Some(misplaced) = misplaced(read, &then, second) {
        return Ok(Some(misplaced));
    }
    let Then { watch, scale, .. } = then;
    let Some(row) = taken.row else {
        let Some(Value::Quantity(held)) = entered.value else { return Ok(Some("no time was held".to_owned())) };
        let (whole, gap) = watch.covers(second - held.si, second);
        return Ok((!whole).then(|| format!("the rows have a gap of {gap:.0} s during the time that was held")));
    };
    Ok(match watch.now(second) {
        Err(why) => Some(format!("the rows show nothing then: {why}")),
        Ok(reading) if reading.at != row => {
            Some(format!("the rows have another reading after it, at {} s", reading.at))
        }
        Ok(reading) => {
            let shown = as_typed(&plan.units, &scale, &reading, &watch);
            (!entered.typed.is_some_and(|typed| is_same(typed, &shown)))
                .then(|| format!("the rows show {shown}, but {} was entered", entered.typed.unwrap_or("nothing")))
        }
    })
}

/// Rows that are said to have begun at another time than they tell themselves, or that went on while the reading was taken:
/// any of them could be chosen so.
fn misplaced(read: &ReadFrom, then: &Then, second: f64) -> Option<String> {
    let Some(zero) = read.zero else {
        let newer = then.last.map_or(0.0, |last| last - second);
        let most = then.watch.stale_after();
        return (newer > most).then(|| format!("by then the reader had sent rows for another {newer:.0} s"));
    };
    match (then.time.form, then.time.day) {
        (TimeForm::Date, Some(day)) if zero.wall() != day.to_datetime(Time::midnight()) => {
            Some(format!("its rows count from {day}, not from {zero}"))
        }
        (TimeForm::Clock, _) if zero.time() != Time::midnight() => {
            Some(format!("its rows tell the time of the day, and do not count from {zero}"))
        }
        _ => None,
    }
}

/// The same number with the same unit: how many decimals it was given goes by what else a reader had sent by then.
fn is_same(typed: &str, shown: &str) -> bool {
    let parts = |text: &str| {
        let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
        Some((number.parse::<f64>().ok()?, unit.to_owned()))
    };
    parts(typed).is_some_and(|typed| parts(shown) == Some(typed))
}
