//! What is known besides a log: when it began, what happened when.

use jiff::ToSpan;
use jiff::civil::{Date, DateTime, Time};

use super::{Around, Description, Ground, LogClock};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_job::plan::typed;
use standpipe_job::{Event, OpenJob, Record};
use standpipe_quantity::value::Value;
use standpipe_yaml::At;

/// Days that are looked at for a log without dates.
const MOST_DAYS: f64 = 100.0;

/// The day of second 0 of a log that has no dates: the one on which most of what was entered lies within the log, of
/// several the latest.
pub fn job_day(records: &[Record], (first, last): (f64, f64), starts: Option<Time>) -> Option<Date> {
    let entered = || records.iter().filter(|record| matches!(record.event, Event::Entered { .. }));
    let zero = starts.map_or(0.0, |starts| starts.duration_since(Time::midnight()).as_secs_f64());
    let passed = ((last + zero) / 86_400.0).floor().clamp(0.0, MOST_DAYS) as i64;
    let latest = records.last()?.at.date();
    let mut days: Vec<Date> = entered().map(|record| record.at.date()).chain([latest]).collect();
    days.dedup();
    let mut days: Vec<Date> = days
        .into_iter()
        .flat_map(|day| (0..=passed).filter_map(move |back| day.checked_sub(back.days()).ok()))
        .collect();
    days.sort_unstable();
    days.dedup();
    let within = |day: Date| {
        let midnight = day.to_datetime(Time::midnight());
        let second = |record: &Record| record.at.wall().duration_since(midnight).as_secs_f64() - zero;
        entered().filter(|record| (first..=last).contains(&second(record))).count()
    };
    let best = days.into_iter().map(|day| (within(day), day)).max()?;
    if best.0 > 0 { Some(best.1) } else { latest.checked_sub(passed.days()).ok() }
}

/// Events and window on the log's own clock.
///
/// `window`: a range as it was typed; `events`: those that were, as `NAME=TIME`. Both come before what the job says.
pub fn around(
    (window, events): (Option<&str>, &[String]),
    description: &Description,
    ground: &Ground,
    log_clock: &LogClock,
    problems: &mut Problems,
) -> Around {
    let mut around = Around { spec: ground.spec.clone(), ..Around::default() };
    let records = ground.job.as_ref().map_or(&[][..], OpenJob::records);
    if let Some(text) = window {
        match ground.parsed.units.read_range(text, None, None) {
            Ok(Value::Range(low, high)) => around.window = Some((low, high)),
            Ok(_) => problems.push(
                Diagnostic::error(
                    Code::WrongArguments,
                    &typed("--window", text).place,
                    format!("`{text}` is not a range"),
                )
                .help("write e.g. `--window 35..45degC`"),
            ),
            Err(fault) => problems.push(fault.at(&typed("--window", text).place)),
        }
    }
    let entered = |step: &At<String>| {
        records.iter().rev().find_map(|record| match &record.event {
            Event::Entered { address, done: true, .. } if address.step == step.value => Some(record.at),
            _ => None,
        })
    };
    for (name, event) in &description.events {
        let at = event.steps.iter().filter_map(entered).max();
        if let Some(at) = at.and_then(|at| log_clock.of(at.wall())) {
            around.events.insert(name.clone(), at);
        }
    }
    for text in events {
        let at = typed("--event", text);
        let Some((name, moment)) = text.split_once('=') else {
            problems.push(
                Diagnostic::error(Code::WrongArguments, &at.place, format!("`{text}` has no `=`"))
                    .help("write `--event NAME=08:41:10`"),
            );
            continue;
        };
        if !description.events.contains_key(name) {
            let known: Vec<&str> = description.events.keys().map(String::as_str).collect();
            let problem = Diagnostic::error(Code::WrongArguments, &at.place, format!("no event is called `{name}`"))
                .expected(known.join(", "));
            let near = nearest(name, known.iter().copied());
            problems.push(
                problem.help(near.map_or("name one of these".to_owned(), |near| format!("did you mean `{near}`?"))),
            );
            continue;
        }
        match self::moment(moment, ground, log_clock).as_slice() {
            [seconds] => {
                around.events.insert(name.to_owned(), *seconds);
            }
            [_, _, ..] => problems.push(
                Diagnostic::error(Code::WrongArguments, &at.place, format!("the log passes `{moment}` more than once"))
                    .expected(match log_clock.day {
                        Some(day) => format!("a date with the time, such as {day}T{moment}"),
                        None => format!("the day with it, counted from the first of the log: \"day 2 {moment}\""),
                    })
                    .help("say on which of its days it was"),
            ),
            [] => problems.push(
                Diagnostic::error(Code::WrongArguments, &at.place, format!("`{moment}` is not a time on the clock of this log"))
                    .expected("a time of day such as 08:41:10, a time since the start such as \"125 s\", or a date with a time")
                    .help("a time of day in a log that counts from its start needs `--starts TIME`; a date needs one in the log"),
            ),
        }
    }
    let times = records.iter().filter(|record| matches!(record.event, Event::Entered { .. }));
    let times: Vec<f64> = times.filter_map(|record| log_clock.of(record.at.wall())).collect();
    if let (Some(first), Some(last)) = (times.first(), times.last()) {
        around.job_time = Some((first.min(*last), last.max(*first)));
    }
    around
}

/// None, or more than one where only the day would tell them apart.
fn moment(text: &str, ground: &Ground, log_clock: &LogClock) -> Vec<f64> {
    let text = text.trim();
    if let Some(time) = clock(text) {
        return log_clock.of_clock(time);
    }
    if let Some((day, time)) = text.strip_prefix("day ").and_then(|rest| rest.trim().split_once(' ')) {
        let (day, time) = (day.parse().ok().filter(|day| *day > 0), clock(time.trim()));
        return day.zip(time).and_then(|(day, time)| log_clock.of_day(day, time)).into_iter().collect();
    }
    if let Ok(moment) = text.parse::<DateTime>()
        && text.len() > 10
    {
        return log_clock.of(moment).into_iter().collect();
    }
    match ground.parsed.units.read(text, Some("time"), None) {
        Ok(Value::Quantity(quantity)) => vec![quantity.si],
        _ => Vec::new(),
    }
}

pub fn clock(text: &str) -> Option<Time> {
    if !text.contains(':') || text.contains(['-', 'T']) { None } else { text.parse().ok() }
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, time};

    use super::*;

    fn records(times: &[&str]) -> Vec<Record> {
        let one = |at: &&str| {
            serde_json::from_value(serde_json::json!({
                "seq": 1, "at": at, "by": "ann", "origin": "typed", "event": "entered", "address": "warm", "done": true,
            }))
        };
        times.iter().map(|at| one(at).expect("a record")).collect()
    }

    #[test]
    fn a_log_without_dates_is_of_the_day_on_which_the_job_was_done() {
        let hour = 3600.0;
        let night = records(&["2026-11-05T23:50:00+01:00", "2026-11-05T23:58:00+01:00", "2026-11-06T00:04:00+01:00"]);
        // From 23:55 to 00:07: its second 0 is the midnight before it began, not the one that it passes.
        let over = (24.0 * hour - 300.0, 24.0 * hour + 420.0);
        assert_eq!(job_day(&night, over, None), Some(date(2026, 11, 5)));
        // Entered in the morning, signed two days later.
        let late = records(&["2026-11-05T08:20:00+01:00", "2026-11-05T08:30:00+01:00", "2026-11-07T16:00:00+01:00"]);
        assert_eq!(job_day(&late, (8.0 * hour, 9.0 * hour), None), Some(date(2026, 11, 5)));
        assert_eq!(job_day(&late, (0.0, hour), Some(time(15, 30, 0, 0))), Some(date(2026, 11, 7)));
        assert_eq!(job_day(&late, (2.0 * hour, 3.0 * hour), None), Some(date(2026, 11, 7)), "none fits: the latest");
        assert_eq!(job_day(&[], over, None), None);
    }
}
