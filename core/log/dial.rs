//! Moments of the world on the clock of one log.

use jiff::SignedDuration;
use jiff::civil::{Date, DateTime, Time};

use super::TimeForm;
use super::understood::TimeRead;

const DAY: f64 = 86_400.0;

/// Turns moments into the seconds of a log and back.
#[derive(Clone, Debug)]
pub struct Dial {
    form: TimeForm,
    /// The day of second 0.
    pub day: Option<Date>,
    /// The day was not in the log.
    pub day_assumed: bool,
    /// Time of the day at second 0, where the log counts from its start.
    starts: Option<f64>,
    first: f64,
}

impl Dial {
    /// `starts` is the time of day at which a log of elapsed time began; `assumed` the day of one without dates.
    pub fn new(time: &TimeRead, first: f64, starts: Option<Time>, assumed: Option<Date>) -> Self {
        Self {
            form: time.form,
            day: time.day.or(assumed),
            day_assumed: time.day.is_none() && assumed.is_some(),
            starts: starts.map(seconds_of),
            first,
        }
    }

    fn zero(&self) -> Option<f64> {
        match self.form {
            TimeForm::Elapsed => self.starts,
            TimeForm::Clock | TimeForm::Date => Some(0.0),
        }
    }

    /// The first such time of day in the log or after its beginning.
    pub fn of_clock(&self, time: Time) -> Option<f64> {
        let at = seconds_of(time) - self.zero()?;
        // Well before the log began is the day after.
        Some(if self.first - at > DAY / 2.0 { at + DAY } else { at })
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

    /// As people read it: the time of the day where it is known, else the time since the start.
    pub fn words(&self, at: f64) -> String {
        match self.zero() {
            Some(zero) => clock((at + zero).rem_euclid(DAY)),
            None => format!("{} after the start", clock(at)),
        }
    }

    /// Without words around it, for the foot of a plot.
    pub fn short(&self, at: f64) -> String {
        clock((at + self.zero().unwrap_or(0.0)).rem_euclid(DAY))
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
