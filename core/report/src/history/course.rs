//! What was read at some steps of a finished job, in the order of time.

use std::path::Path;

use indexmap::IndexMap;
use standpipe_job::Moment;

use standpipe_diagnostic::Problems;
use standpipe_job::event::KeptLog;
use standpipe_job::journal::evidence;
use standpipe_job::plan::{Parsed, Plan};
use standpipe_job::state::Reading;
use standpipe_job::{Address, Event, ReadFrom, Record, State, TakenFrom};
use standpipe_log::Choices;
use standpipe_procedure::Learned;
use standpipe_quantity::Quantity;
use standpipe_quantity::series;
use standpipe_quantity::value::Value;
use standpipe_stream::{Kept, Limits};

/// Rows of a log are thinned to so many. Neighbours share the errors of the instrument and of its display: a thousand of them
/// would only feign an accuracy.
const MOST: usize = 60;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    Entered,
    Reader,
    Log,
}

#[derive(Debug)]
pub struct Course {
    /// Seconds since the first.
    pub readings: Vec<(f64, Quantity)>,
    pub from: Origin,
    pub last_at: Moment,
}

/// The longest of the courses at these steps: each step in each round has one of its own.
pub fn longest(plan: &Plan, learned: &Learned, state: &State, records: &[Record], folder: &Path) -> Option<Course> {
    let mut courses: IndexMap<&Address, Vec<&Reading>> = IndexMap::new();
    for reading in &state.readings {
        let here = learned.at.iter().any(|step| step.value == reading.address.step);
        if reading.name == learned.of.value && here && !reading.computed {
            courses.entry(&reading.address).or_default().push(reading);
        }
    }
    let of = |(address, entered): (&Address, Vec<&Reading>)| course(plan, learned, address, &entered, records, folder);
    courses.into_iter().filter_map(of).max_by_key(|course| course.readings.len())
}

fn course(
    plan: &Plan,
    learned: &Learned,
    address: &Address,
    entered: &[&Reading],
    records: &[Record],
    folder: &Path,
) -> Option<Course> {
    let mut points: Vec<(Moment, &Quantity)> = entered
        .iter()
        .filter_map(|reading| match &reading.value {
            Value::Quantity(quantity) => Some((reading.at, quantity)),
            _ => None,
        })
        .collect();
    points.sort_by_key(|(at, _)| *at);
    points.dedup_by_key(|(at, _)| *at);
    let (first_at, last_at) = (points.first()?.0, points.last()?.0);
    let seconds = |at: Moment| at.duration_since(first_at).as_secs_f64();
    let own = Course {
        readings: points.iter().map(|(at, value)| (seconds(*at), (*value).clone())).collect(),
        from: Origin::Entered,
        last_at,
    };
    let between = (first_at, last_at);
    let rows = of_entries(plan, learned, address, between, records, folder)
        .or_else(|| of_kept_logs(plan, learned, between, records, folder));
    let Some((from, rows)) = rows.filter(|(_, rows)| rows.len() > own.readings.len()) else { return Some(own) };
    let start = rows.first()?.0;
    let readings = thinned(rows).into_iter().map(|(at, value)| (at - start, value)).collect();
    Some(Course { readings, from, last_at })
}

type Rows = (Origin, Vec<(f64, Quantity)>);

/// Rows that the entries themselves were taken from.
fn of_entries(
    plan: &Plan,
    learned: &Learned,
    address: &Address,
    (first, last): (Moment, Moment),
    records: &[Record],
    folder: &Path,
) -> Option<Rows> {
    let entries: Vec<(Moment, &ReadFrom, &TakenFrom)> = records
        .iter()
        .filter_map(|record| match &record.event {
            Event::Entered { address: at, read: Some(read), .. } if at == address => {
                Some((record.at, &**read, read.values.get(&learned.of.value)?))
            }
            _ => None,
        })
        .collect();
    let (_, read, taken) = entries.last()?;
    let (low, high) = match read.zero {
        Some(zero) => (first.duration_since(zero).as_secs_f64(), last.duration_since(zero).as_secs_f64()),
        // Without a clock, only from one row that was taken to another of the same reader.
        None => {
            let (_, before, began) = entries.first()?;
            let same = read.rows.of.is_some() && part(before) == part(read);
            (began.row.filter(|_| same)?, taken.row?)
        }
    };
    let rows = Kept {
        column: &taken.column,
        quantity: &taken.quantity,
        choices: Choices::of_written(&read.said)?,
        units: &plan.units,
        limits: Limits::default(),
    };
    let rows = rows.between(evidence::open(folder, &read.rows).ok()?, low, high).ok()?;
    Some((if read.log { Origin::Log } else { Origin::Reader }, rising(rows)))
}

fn part(read: &ReadFrom) -> Option<&str> {
    read.rows.of.as_ref().map(|part| part.file.as_str())
}

/// Rows of a log that was kept with the job and covers the time.
fn of_kept_logs(
    plan: &Plan,
    learned: &Learned,
    between: (Moment, Moment),
    records: &[Record],
    folder: &Path,
) -> Option<Rows> {
    let began = records.iter().find(|record| matches!(record.event, Event::Entered { .. }))?.at;
    let mut parsed = None;
    records.iter().find_map(|record| {
        let Event::LogKept(kept) = &record.event else { return None };
        let parsed = parsed.get_or_insert_with(|| Parsed::new(plan.snapshot.files.clone(), &mut Problems::new()));
        let rows = of_kept_log(parsed, learned, kept, (began, between), folder)?;
        (rows.len() > 1).then_some((Origin::Log, rows))
    })
}

fn of_kept_log(
    parsed: &Parsed,
    learned: &Learned,
    kept: &KeptLog,
    (began, (first, last)): (Moment, (Moment, Moment)),
    folder: &Path,
) -> Option<Vec<(f64, Quantity)>> {
    let description = standpipe_log::kept::described(kept, parsed, folder).ok()?;
    let log =
        standpipe_log::kept::rows(kept, evidence::open(folder, &kept.evidence).ok()?, &description, parsed).ok()?;
    let series = log.series.get(&learned.of.value)?;
    let series::Kind::Measured(scale) = &series.kind else { return None };
    // Where on the log's clock the first entry of the job lies.
    let start = kept.job_time?.0;
    let second = |at: Moment| start + at.duration_since(began).as_secs_f64();
    let (low, high) = (second(first), second(last));
    let rows =
        series.times.iter().zip(&series.values).filter(|(at, value)| (low..=high).contains(*at) && value.is_finite());
    Some(rising(rows.map(|(at, value)| (*at, scale.quantity(*value))).collect()))
}

/// A reader that sent two rows for one moment sent one too many.
fn rising(rows: Vec<(f64, Quantity)>) -> Vec<(f64, Quantity)> {
    let mut kept: Vec<(f64, Quantity)> = Vec::with_capacity(rows.len());
    for row in rows {
        if kept.last().is_none_or(|last| last.0 < row.0) {
            kept.push(row);
        }
    }
    kept
}

/// Evenly, with the first and the last.
fn thinned(rows: Vec<(f64, Quantity)>) -> Vec<(f64, Quantity)> {
    if rows.len() <= MOST {
        return rows;
    }
    let step = (rows.len() - 1) as f64 / (MOST - 1) as f64;
    (0..MOST).filter_map(|index| rows.get((index as f64 * step).round() as usize).cloned()).collect()
}
