//! Times in an answers file: `2026-11-23T08:05:00+01:00`, `2026-11-23 08:05` by the same clock as the answer before, or
//! `+2 min` after that answer.

use jiff::SignedDuration;
use jiff::civil::DateTime;

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::Moment;
use standpipe_yaml::At;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    At(Moment),
    /// By the clock of the answer before; at first by UTC.
    OnTheClock(DateTime),
    /// After the answer before.
    After(SignedDuration),
}

/// Seconds of the units a time may be given in. Not the plan's units: answers are read before there is a plan.
const UNITS: &[(&str, f64)] = &[("s", 1.0), ("min", 60.0), ("h", 3600.0), ("d", 86400.0)];

impl When {
    pub fn read(written: &At<String>) -> Result<Self, Box<Diagnostic>> {
        let text = written.value.trim();
        let read = match text.strip_prefix('+') {
            Some(rest) => duration(rest).map(When::After),
            None => time(text),
        };
        read.ok_or_else(|| {
            // A number, or a number and its unit, without what says that it counts from the answer before.
            let bare = text.trim_start_matches('+').trim();
            let meant = match bare.parse::<f64>() {
                Ok(_) => Some(format!("+{bare} min")),
                Err(_) => duration(bare).map(|_| format!("+{bare}")),
            };
            if let Some(meant) = meant {
                return Box::new(
                    Diagnostic::error(Code::UnfitAnswer, &written.place, format!("`{text}` is not a time"))
                        .expected("a date and a time of day, or a `+` and how long after the answer before")
                        .help(format!("write `at: \"{meant}\"`, if it is meant so")),
                );
            }
            Box::new(
                Diagnostic::error(Code::UnfitAnswer, &written.place, format!("`{text}` is not a time"))
                    .expected("a date and a time of day, such as 2026-11-23T08:05:00, or a time after the answer before, such as \"+2 min\"")
                    .help("`+01:00` after a time says how far the clock is ahead of UTC, and holds until another does; s, min, h and d after a `+`"),
            )
        })
    }

    /// The time it means; `None` if it counts from an answer before and there is none, or lies beyond the calendar.
    pub fn after(self, before: Option<Moment>) -> Option<Moment> {
        match self {
            When::At(moment) => Some(moment),
            When::OnTheClock(wall) => Some(before.unwrap_or_default().at_wall(wall)),
            When::After(wait) => before?.checked_add(wait),
        }
    }
}

/// A date alone would silently mean midnight.
fn time(text: &str) -> Option<When> {
    let of_day = text.get(10..)?;
    if !of_day.starts_with(['T', 't', ' ']) || of_day.contains('[') {
        return None;
    }
    match of_day.contains(['+', '-', 'Z', 'z']) {
        true => text.parse().ok().map(When::At),
        false => text.parse().ok().map(When::OnTheClock),
    }
}

/// `2 min`, `1 h 30 min`.
fn duration(text: &str) -> Option<SignedDuration> {
    let mut rest = text.trim_start();
    let mut seconds = 0.0;
    if rest.is_empty() {
        return None;
    }
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
        let number: f64 = rest[..digits].parse().ok()?;
        rest = rest[digits..].trim_start();
        let letters = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        let (_, factor) = UNITS.iter().find(|(unit, _)| *unit == &rest[..letters])?;
        seconds += number * factor;
        rest = rest[letters..].trim_start();
    }
    SignedDuration::try_from_secs_f64(seconds).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::source::{Place, Source};

    fn read(text: &str) -> Option<When> {
        let source = Source::new("a", text);
        When::read(&At::new(text.to_owned(), Place::whole(&source))).ok()
    }

    #[test]
    fn times_are_absolute_or_count_from_the_answer_before() {
        let eight: Moment = "2026-11-23T08:00:00+01:00".parse().unwrap();
        let cases = [
            ("2026-11-23T08:05:00+02:00", "2026-11-23T08:05:00+02:00"),
            ("2026-11-23 08:05-03:30", "2026-11-23T08:05:00-03:30"),
            ("2026-11-23T08:05:00Z", "2026-11-23T08:05:00+00:00"),
            ("2026-11-23T08:05:00", "2026-11-23T08:05:00"),
            ("2026-11-23 08:05", "2026-11-23T08:05:00"),
            ("+2 min", "2026-11-23T08:02:00"),
            ("+20 s", "2026-11-23T08:00:20"),
            ("+1.5h", "2026-11-23T09:30:00"),
            ("+1 h 30 min", "2026-11-23T09:30:00"),
            ("+ 1 d", "2026-11-24T08:00:00"),
            ("+0 s", "2026-11-23T08:00:00"),
        ];
        for (text, expected) in cases {
            let found = read(text).and_then(|when| when.after(Some(eight)));
            let expected = if expected.len() > 19 { expected.to_owned() } else { format!("{expected}+01:00") };
            assert_eq!(found, Some(expected.parse().unwrap()), "{text}");
        }
    }

    #[test]
    fn what_is_no_time_is_refused() {
        let words = [
            "",
            "+",
            "soon",
            "2026-11-23",
            "08:05",
            "+2",
            "+2 months",
            "+-2 min",
            "+1.2.3 s",
            "+1e9 s",
            "-2 min",
            "+ min",
        ];
        let zones = [
            "2026-11-23T08:05:00+01:00[Europe/Rome]",
            "2026-11-23T08:05:00+01:00:30",
            "2026-11-23T25:05:00",
            "2026-02-30T08:00:00",
        ];
        for text in words.into_iter().chain(zones) {
            assert_eq!(read(text), None, "{text}");
        }
        assert_eq!(read("+99999999999 d").and_then(|when| when.after(None)), None);
        let late = "9999-12-31T23:59:00+00:00".parse().unwrap();
        assert_eq!(read("+9 d").and_then(|when| when.after(Some(late))), None, "the end of the calendar");
    }
}
