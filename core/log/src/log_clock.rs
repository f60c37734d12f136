//! Moments of the world on the clock of one log.

use jiff::civil::{Date, DateTime, Time};
use jiff::{SignedDuration, ToSpan};

use super::TimeForm;
use super::understood::TimeRead;

const DAY: f64 = 86_400.0;
/// Of a time of day that was given without its day, so many are looked at.
const MOST_DAYS: u32 = 400;

/// Turns moments into the seconds of a log and back.
#[derive(Clone, Debug)]
pub struct LogClock {
    form: TimeForm,
    /// The day of second 0.
    pub day: Option<Date>,
    /// The day was not in the log.
    pub day_assumed: bool,
    /// Time of the day at second 0, where the log counts from its start.
    starts: Option<f64>,
    first: f64,
    last: f64,
}

impl LogClock {
    /// `starts` is the time of day at which a log of elapsed time began; `assumed` the day of one without dates.
    pub fn new(time: &TimeRead, (first, last): (f64, f64), starts: Option<Time>, assumed: Option<Date>) -> Self {
        Self {
            form: time.form,
            day: time.day.or(assumed),
            day_assumed: time.day.is_none() && assumed.is_some(),
            starts: starts.map(seconds_of),
            first,
            last,
        }
    }

    fn zero(&self) -> Option<f64> {
        match self.form {
            TimeForm::Elapsed => self.starts,
            TimeForm::Clock | TimeForm::Date => Some(0.0),
        }
    }

    /// Such a time of day, each time that the log passes it; where it never does, the first one around its beginning.
    pub fn of_clock(&self, time: Time) -> Vec<f64> {
        let Some(zero) = self.zero() else { return Vec::new() };
        let at = seconds_of(time) - zero;
        let passed = ((self.first - at) / DAY).ceil().max(0.0);
        let all = (0..MOST_DAYS).map(|day| at + (passed + f64::from(day)) * DAY);
        let all: Vec<f64> = all.take_while(|at| *at <= self.last).collect();
        match all.is_empty() {
            // Well before the log began is the day after.
            true => vec![if self.first - at > DAY / 2.0 { at + DAY } else { at }],
            false => all,
        }
    }

    /// Whether times of the day alone would not say when something was.
    pub fn has_many_days(&self) -> bool {
        self.zero().is_some_and(|zero| ((self.first + zero) / DAY).floor() < ((self.last + zero) / DAY).floor())
    }

    /// A time of day on one of the days of the log, the first of which is 1.
    pub fn of_day(&self, day: u32, time: Time) -> Option<f64> {
        let zero = self.zero()?;
        let first = ((self.first + zero) / DAY).floor();
        Some((first + f64::from(day) - 1.0) * DAY + seconds_of(time) - zero)
    }

    pub fn of(&self, moment: DateTime) -> Option<f64> {
        let days = f64::from((moment.date() - self.day?).get_days());
        Some(days * DAY + seconds_of(moment.time()) - self.zero()?)
    }

    /// The moment of second 0.
    pub fn zero_moment(&self) -> Option<DateTime> {
        let seconds = (self.zero()? * 1000.0).round() as i64;
        self.day?.to_datetime(Time::midnight()).checked_add(SignedDuration::from_millis(seconds)).ok()
    }

    /// As people read it: the time of the day where it is known, with the day where there are many, else the time since
    /// the start.
    pub fn words(&self, at: f64) -> String {
        match self.zero() {
            Some(_) => self.short(at),
            None => format!("{} after the start", clock(at)),
        }
    }

    /// Without words around it, for the foot of a plot.
    pub fn short(&self, at: f64) -> String {
        let Some(zero) = self.zero() else { return clock(at) };
        // Rounded before the day is split off: a moment before midnight is no 24:00.
        let at = ((at + zero) * 10.0).round() / 10.0;
        let (day, time) = ((at / DAY).floor(), clock(at.rem_euclid(DAY)));
        if !self.has_many_days() {
            return time;
        }
        let date = self.day.and_then(|first| first.checked_add((day as i64).days()).ok());
        match date {
            Some(date) => format!("{date} {time}"),
            None => format!("day {} {time}", day - ((self.first + zero) / DAY).floor() + 1.0),
        }
    }
}

fn seconds_of(time: Time) -> f64 {
    f64::from(time.hour()) * 3600.0
        + f64::from(time.minute()) * 60.0
        + f64::from(time.second())
        + f64::from(time.subsec_nanosecond()) / 1e9
}

fn clock(seconds: f64) -> String {
    // Rounded before it is split, so that 59.9996 becomes no 60.
    let tenths = (seconds * 10.0).round().clamp(0.0, 1e12) as u64;
    let (whole, tenth) = (tenths / 10, tenths % 10);
    let text = format!("{:02}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
    if tenth == 0 { text } else { format!("{text}.{tenth}") }
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, time};

    use super::*;

    fn log_clock(form: TimeForm, day: Option<Date>, span: (f64, f64)) -> LogClock {
        let read = TimeRead { index: 0, heading: String::new(), form, unit: None, day };
        LogClock::new(&read, span, None, None)
    }

    #[test]
    fn times_carry_the_day_where_there_are_many() {
        let (evening, last) = (20.0 * 3600.0, 2.0 * DAY + 3600.0);
        let dated = log_clock(TimeForm::Date, Some(date(2026, 11, 5)), (evening, last));
        assert_eq!(dated.words(DAY + 60.0), "2026-11-06 00:01:00");
        assert_eq!(dated.words(DAY - 0.01), "2026-11-06 00:00:00");
        assert_eq!(dated.of(date(2026, 11, 7).at(0, 30, 0, 0)), Some(2.0 * DAY + 1800.0));
        let clock = log_clock(TimeForm::Clock, None, (evening, last));
        assert_eq!([clock.words(evening), clock.words(last)], ["day 1 20:00:00", "day 3 01:00:00"]);
        assert_eq!(clock.of_day(3, time(0, 30, 0, 0)), Some(2.0 * DAY + 1800.0));
        let one = log_clock(TimeForm::Date, Some(date(2026, 11, 5)), (evening, evening + 60.0));
        assert_eq!(one.words(evening), "20:00:00");
    }

    #[test]
    fn a_time_of_day_that_comes_twice_is_both() {
        let (evening, last) = (20.0 * 3600.0, 2.0 * DAY + 3600.0);
        let clock = log_clock(TimeForm::Clock, None, (evening, last));
        assert_eq!(clock.of_clock(time(21, 0, 0, 0)), [75_600.0, 75_600.0 + DAY]);
        assert_eq!(clock.of_clock(time(0, 30, 0, 0)), [DAY + 1800.0, 2.0 * DAY + 1800.0]);
        // Of one night it is the only one there is, on either side of midnight.
        let night = log_clock(TimeForm::Clock, None, (23.0 * 3600.0, DAY + 3600.0));
        assert_eq!(night.of_clock(time(0, 30, 0, 0)), [DAY + 1800.0]);
        assert_eq!(night.of_clock(time(2, 0, 0, 0)), [DAY + 7200.0]);
    }
}
