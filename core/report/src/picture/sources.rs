//! Rows that readings were taken from, and the moments of their clocks.

use std::path::Path;

use indexmap::IndexMap;
use jiff::ToSpan;
use jiff::civil::{Date, Time};
use standpipe_job::Moment;

use super::trace::{Paper, Trace, moment};
use crate::shown::words;
use standpipe_job::journal::evidence;
use standpipe_job::names::seconds_between;
use standpipe_job::plan::Plan;
use standpipe_job::{Event, EvidenceRef, Record};
use standpipe_log::{Choices, Collected, TimeForm};
use standpipe_stream::{Kept, columns, limits};

/// A reader's clock that is no further behind the entry of its reading is right.
const LATEST: f64 = 60.0;

/// One column that readings were taken from.
struct Rows<'a> {
    rows: &'a EvidenceRef,
    log: bool,
    said: &'a IndexMap<String, String>,
    column: &'a str,
    quantity: &'a str,
    zero: Option<Moment>,
    /// When a reading was entered, and the second of its row.
    entered: Vec<(Moment, f64)>,
}

/// The curves of all rows that readings of these names were taken from at steps of `here`.
pub(super) fn traces(
    (records, folder): (&[Record], &Path),
    is_read: impl Fn(&str) -> bool,
    here: impl Fn(&str) -> bool,
    paper: &Paper<'_>,
) -> Vec<Trace> {
    let mut all: Vec<Rows<'_>> = Vec::new();
    for record in records {
        let Event::Entered { address, read: Some(read), .. } = &record.event else { continue };
        for (_, taken) in read.values.iter().filter(|(name, _)| is_read(name) && here(&address.step)) {
            let known = all.iter_mut().find(|known| {
                is_same(known.rows, &read.rows) && known.column == taken.column && known.said == &read.said
            });
            let rows = match known {
                Some(known) => known,
                None => {
                    all.push(Rows {
                        rows: &read.rows,
                        log: read.log,
                        said: &read.said,
                        column: &taken.column,
                        quantity: &taken.quantity,
                        zero: read.zero,
                        entered: Vec::new(),
                    });
                    let last = all.len() - 1;
                    &mut all[last]
                }
            };
            // What is entered later says nothing of when its row came.
            rows.entered.extend(taken.row.filter(|_| record.entered_at.is_none()).map(|row| (record.at, row)));
        }
    }
    // Of a stream as much as was ever vouched for.
    for record in records {
        let Event::Entered { read: Some(read), .. } = &record.event else { continue };
        let bytes = |rows: &EvidenceRef| rows.of.as_ref().map_or(0, |part| part.bytes);
        for known in all.iter_mut().filter(|known| is_same(known.rows, &read.rows)) {
            known.rows = if bytes(&read.rows) > bytes(known.rows) { &read.rows } else { known.rows };
        }
    }
    all.iter().map(|rows| rows.trace(folder, paper)).collect()
}

fn is_same(one: &EvidenceRef, other: &EvidenceRef) -> bool {
    match (&one.of, &other.of) {
        (Some(one), Some(other)) => one.file == other.file,
        (None, None) => one.sha256 == other.sha256,
        _ => false,
    }
}

impl Rows<'_> {
    fn trace(&self, folder: &Path, paper: &Paper<'_>) -> Trace {
        let trace = Trace {
            name: words(self.column),
            file: self.rows.name.clone(),
            sha256: self.rows.sha256.clone(),
            of: if self.log { "log" } else { "reader" },
            ..Trace::default()
        };
        match self.read(folder, paper.plan) {
            Err(why) => trace.missing(why),
            Ok(log) => match self.zero_of(&log) {
                None => trace.missing("nothing says when it was".to_owned()),
                Some((zero, laid)) => {
                    let gap = self.gap(&log, paper.plan);
                    Trace { laid, ..trace }.lay(&log, self.column, zero, gap, paper)
                }
            },
        }
    }

    fn read(&self, folder: &Path, plan: &Plan) -> Result<Collected, String> {
        let kept = Kept {
            column: self.column,
            quantity: self.quantity,
            choices: Choices::of_written(self.said).ok_or("what was said about it is not understood")?,
            units: &plan.units,
            limits: limits(plan, None),
        };
        proven(folder, self.rows, |from| kept.whole(from))
    }

    /// A reading counts for as long as it did when it was taken.
    fn gap(&self, log: &Collected, plan: &Plan) -> f64 {
        let with = columns(plan).into_iter().find(|column| column.name == self.column).and_then(|column| column.with);
        let spacing = || log.series.get(self.column).and_then(|series| series.spacing()).unwrap_or(0.0);
        limits(plan, with.as_deref()).stale_after(spacing)
    }

    /// The moment of second 0, and how it was found where the rows do not simply say it.
    fn zero_of(&self, log: &Collected) -> Option<(Moment, Option<String>)> {
        if let Some(zero) = self.zero {
            return Some((zero, None));
        }
        let clock = self.entered.first().map(|(at, _)| *at).unwrap_or_default();
        let midnight = |day: Date| clock.at_wall(day.to_datetime(Time::midnight()));
        let midnights: Vec<Moment> = match (log.understood.time.form, log.understood.time.day) {
            (TimeForm::Date, Some(day)) => vec![midnight(day)],
            (TimeForm::Clock, _) => {
                let day = self.entered.first()?.0.date();
                let days = (0..8i64).filter_map(|back| day.checked_sub(back.days()).ok());
                days.map(midnight).collect()
            }
            _ => Vec::new(),
        };
        let is_right = |zero: &Moment| {
            let late = |(at, row): &(Moment, f64)| seconds_between(moment(*zero, *row), *at);
            !self.entered.is_empty() && self.entered.iter().all(|entry| (-1.0..=LATEST).contains(&late(entry)))
        };
        if let Some(zero) = midnights.into_iter().find(is_right) {
            return Some((zero, None));
        }
        // No reading is entered before its row came: the entry that followed its row the soonest is the nearest.
        let zero_by = |(at, row): &(Moment, f64)| moment(*at, -row);
        let soonest = self.entered.iter().min_by_key(|entry| zero_by(entry))?;
        let laid = format!("its clock laid on that of the job by the reading entered at {}", soonest.0.time());
        Some((zero_by(soonest), Some(laid)))
    }
}

/// What is read of a piece of evidence, only where it still is what was kept.
pub(super) fn proven<T>(
    folder: &Path,
    kept: &EvidenceRef,
    read: impl FnOnce(&mut dyn std::io::Read) -> Result<T, String>,
) -> Result<T, String> {
    let is_there = evidence::path_of(folder, kept).is_some_and(|path| path.is_file());
    if !is_there {
        return Err("it is gone from the folder of the job".to_owned());
    }
    let mut from = evidence::proving(folder, kept)?;
    let read = read(&mut from);
    from.holds(kept).map_err(|fault| fault.split(": found").next().unwrap_or_default().to_owned())?;
    read
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use jiff::civil::date;

    use super::*;
    use standpipe_log::{Wanted, WantedColumn};
    use standpipe_quantity::Units;

    fn zero_of(text: &str, entered: &[(i8, i8, i8, f64)]) -> (String, bool) {
        let level = WantedColumn {
            title: "level".to_owned(),
            quantity: Some("temperature".to_owned()),
            words: vec!["level".to_owned()],
            not: Vec::new(),
            required: true,
            entered: None,
            stands_for: IndexMap::new(),
        };
        let columns = IndexMap::from([("level".to_owned(), level)]);
        let wanted = Arc::new(Wanted { time: vec!["time".to_owned()], columns });
        let units = Arc::new(Units::standard());
        let Ok(log) = Collected::read(text.as_bytes(), &wanted, Choices::default(), &units) else {
            panic!("it is not read")
        };
        let rows = EvidenceRef { sha256: String::new(), name: String::new(), of: None };
        let said = IndexMap::new();
        let at = |(hour, minute, second, row): &(i8, i8, i8, f64)| {
            (Moment::new(date(2026, 11, 23).at(*hour, *minute, *second, 0), 60), *row)
        };
        let entered = entered.iter().map(at).collect();
        let (column, quantity) = ("level", "temperature");
        let rows = Rows { rows: &rows, log: false, said: &said, column, quantity, zero: None, entered };
        let (zero, laid) = rows.zero_of(&log).unwrap();
        (zero.to_string(), laid.is_some())
    }

    #[test]
    fn a_clock_that_agrees_is_taken_and_another_is_laid_by_the_soonest_entry() {
        let clock = "time,level [degC]\n08:00:00,30.1\n08:00:02,30.2\n08:00:04,30.3\n";
        let row = 8.0 * 3600.0 + 4.0;
        assert_eq!(zero_of(clock, &[(8, 0, 6, row)]), ("2026-11-23T00:00:00+01:00".to_owned(), false));
        // An hour behind; the second entry came sooner after its row than the first.
        let entries = [(9, 0, 9, row), (9, 1, 3, row + 60.0)];
        assert_eq!(zero_of(clock, &entries), ("2026-11-23T00:59:59+01:00".to_owned(), true));
        let night = "time,level [degC]\n23:59:58,30.1\n00:00:00,30.2\n00:00:02,30.3\n";
        assert_eq!(zero_of(night, &[(0, 0, 3, 86_402.0)]), ("2026-11-22T00:00:00+01:00".to_owned(), false));
        let elapsed = "time [s],level [degC]\n0,30.1\n2,30.2\n4,30.3\n";
        assert_eq!(zero_of(elapsed, &[(8, 0, 5, 4.0)]), ("2026-11-23T08:00:01+01:00".to_owned(), true));
    }
}
