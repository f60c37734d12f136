//! Moments in cells: time of the day, time since the start, date and time.

use jiff::civil::Date;

use super::TimeForm;
use super::number::{self, DecimalSign};

const DAY: f64 = 86_400.0;

/// Reads the time cells of one log, each in seconds since one beginning.
#[derive(Clone, Debug)]
pub(super) struct Clock {
    form: TimeForm,
    /// Seconds of one, where elapsed time is a number.
    factor: Option<f64>,
    /// Day of second 0.
    pub day: Option<Date>,
    offset: Option<i32>,
    last: f64,
    days_passed: f64,
    cached: Option<([u8; 10], f64)>,
}

impl Clock {
    pub fn new(form: TimeForm, factor: Option<f64>) -> Self {
        Self { form, factor, day: None, offset: None, last: f64::NAN, days_passed: 0.0, cached: None }
    }

    #[inline]
    pub fn read(&mut self, cell: &[u8], sign: Option<DecimalSign>) -> Option<f64> {
        match (self.form, self.factor) {
            (TimeForm::Elapsed, Some(factor)) => Some(number::read(cell, sign.unwrap_or(DecimalSign::Point))? * factor),
            (TimeForm::Elapsed, None) => parts(cell).map(|parts| parts.seconds_elapsed()),
            (TimeForm::Clock, _) => {
                let parts = parts(cell)?;
                let seconds = parts.seconds_of_day()?;
                // Half a day back can only be midnight; less is a clock that was set.
                if self.last - seconds > DAY / 2.0 {
                    self.days_passed += 1.0;
                }
                self.last = seconds;
                Some(seconds + self.days_passed * DAY)
            }
            (TimeForm::Date, _) => self.dated(cell),
        }
    }

    fn dated(&mut self, cell: &[u8]) -> Option<f64> {
        let (day, rest) = cell.split_at_checked(10)?;
        let key: [u8; 10] = day.try_into().ok()?;
        let days = match self.cached {
            Some((known, days)) if known == key => days,
            _ => {
                let date: Date = iso_day(day)?;
                let first = *self.day.get_or_insert(date);
                let days = f64::from((date - first).get_days());
                self.cached = Some((key, days));
                days
            }
        };
        let clock = match rest {
            [b'T' | b't' | b' ', clock @ ..] => clock.trim_ascii_start(),
            _ => return None,
        };
        let (clock, offset) = split_offset(clock)?;
        let seconds = parts(clock)?.seconds_of_day()?;
        // Summer time that ends within a log does not make it run backwards.
        let shift = match (offset, self.offset) {
            (Some(now), Some(first)) => f64::from(first - now),
            (Some(now), None) => {
                self.offset = Some(now);
                0.0
            }
            (None, _) => 0.0,
        };
        Some(days * DAY + seconds + shift)
    }
}

fn iso_day(text: &[u8]) -> Option<Date> {
    let sound = text.iter().enumerate().all(|(at, byte)| match at {
        4 | 7 => *byte == b'-',
        _ => byte.is_ascii_digit(),
    });
    if !sound {
        return None;
    }
    std::str::from_utf8(text).ok()?.parse().ok()
}

/// `08:15:02+01:00`: the clock, and the seconds ahead of universal time.
fn split_offset(clock: &[u8]) -> Option<(&[u8], Option<i32>)> {
    if let [rest @ .., b'Z' | b'z'] = clock {
        return Some((rest, Some(0)));
    }
    let Some(at) = clock.iter().rposition(|byte| matches!(byte, b'+' | b'-')) else {
        return Some((clock, None));
    };
    let digits: Vec<u8> = clock[at + 1..].iter().copied().filter(|byte| *byte != b':').collect();
    if digits.len() != 4 || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let two = |at: usize| i32::from(digits[at] - b'0') * 10 + i32::from(digits[at + 1] - b'0');
    let seconds = two(0) * 3600 + two(2) * 60;
    Some((&clock[..at], Some(if clock[at] == b'-' { -seconds } else { seconds })))
}

/// Numbers between colons; the last may have a fraction.
#[derive(Clone, Copy, Debug)]
pub(super) struct Parts {
    numbers: [u32; 3],
    pub count: usize,
    fraction: f64,
    pub has_fraction: bool,
}

#[inline]
pub(super) fn parts(cell: &[u8]) -> Option<Parts> {
    // As most clocks write it.
    if let [h, hh, b':', m, mm, b':', s, ss, rest @ ..] = cell
        && [h, hh, m, mm, s, ss].into_iter().all(u8::is_ascii_digit)
        && *m < b'6'
        && *s < b'6'
    {
        let two = |tens: u8, ones: u8| u32::from(tens - b'0') * 10 + u32::from(ones - b'0');
        let numbers = [two(*h, *hh), two(*m, *mm), two(*s, *ss)];
        return match rest {
            [] => Some(Parts { numbers, count: 3, fraction: 0.0, has_fraction: false }),
            [b'.' | b',', digits @ ..] => {
                Some(Parts { numbers, count: 3, fraction: number::fraction(digits)?, has_fraction: true })
            }
            _ => None,
        };
    }
    parts_of_any(cell)
}

fn parts_of_any(cell: &[u8]) -> Option<Parts> {
    let mut parts = Parts { numbers: [0; 3], count: 1, fraction: 0.0, has_fraction: false };
    let mut digits = 0;
    for (at, &byte) in cell.iter().enumerate() {
        match byte {
            b'0'..=b'9' if digits < 5 => {
                let number = &mut parts.numbers[parts.count - 1];
                *number = *number * 10 + u32::from(byte - b'0');
                digits += 1;
            }
            b':' if digits > 0 && parts.count < 3 => {
                parts.count += 1;
                digits = 0;
            }
            b'.' | b',' if digits > 0 && parts.count >= 2 => {
                parts.fraction = number::fraction(&cell[at + 1..])?;
                parts.has_fraction = true;
                return parts.sound();
            }
            _ => return None,
        }
    }
    if digits == 0 {
        return None;
    }
    parts.sound()
}

impl Parts {
    fn sound(self) -> Option<Self> {
        let last_sixty = self.numbers[1..self.count].iter().all(|number| *number < 60);
        (self.count >= 2 && last_sixty).then_some(self)
    }

    /// As a time of the day: `8:15`, `08:15:02.5`.
    pub fn seconds_of_day(self) -> Option<f64> {
        let [hours, minutes, seconds] = self.numbers;
        let fits = hours < 24 && (self.count == 3 || !self.has_fraction);
        fits.then(|| f64::from(hours * 3600 + minutes * 60 + seconds) + self.fraction)
    }

    /// As time since the start: `0:00:02`, `12:05.5` in minutes and seconds.
    pub fn seconds_elapsed(self) -> f64 {
        let [a, b, c] = self.numbers.map(f64::from);
        let whole = if self.count == 3 { a * 3600.0 + b * 60.0 + c } else { a * 60.0 + b };
        whole + self.fraction
    }
}

/// Forms that a cell of a time column can have.
pub(super) fn forms(cell: &str) -> Vec<TimeForm> {
    let bytes = cell.trim().as_bytes();
    if Clock::new(TimeForm::Date, None).read(bytes, None).is_some() {
        return vec![TimeForm::Date];
    }
    match parts(bytes) {
        None => Vec::new(),
        // Hours of more than a day, minutes with a fraction: no clock shows that.
        Some(parts) if parts.seconds_of_day().is_none() => vec![TimeForm::Elapsed],
        // `08:15` is a quarter past eight or eight minutes and a quarter; shortly after midnight is the start of a log.
        Some(parts) if parts.count == 2 || parts.numbers[0] == 0 => vec![TimeForm::Clock, TimeForm::Elapsed],
        Some(_) => vec![TimeForm::Clock],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(form: TimeForm, cells: &[&str]) -> Vec<Option<f64>> {
        let mut clock = Clock::new(form, None);
        cells.iter().map(|cell| clock.read(cell.as_bytes(), None)).collect()
    }

    #[test]
    fn a_clock_goes_on_over_midnight_and_back_where_it_was_set() {
        let read = all(TimeForm::Clock, &["23:59:59", "00:00:00.5", "8:15", "08:14:59", "24:00:00", "8:60:00", "8.15"]);
        let day = 86_400.0;
        let expected = [Some(86_399.0), Some(day + 0.5), Some(day + 29_700.0), Some(day + 29_699.0), None, None, None];
        assert_eq!(read, expected);
    }

    #[test]
    fn a_clock_that_is_set_back_is_no_midnight_until_half_a_day() {
        let day = 86_400.0;
        // One hour back in autumn, and what is just less and just more than half a day.
        let hour = all(TimeForm::Clock, &["02:59:59", "02:00:00", "02:00:01"]);
        assert_eq!(hour, [Some(10_799.0), Some(7_200.0), Some(7_201.0)]);
        assert_eq!(all(TimeForm::Clock, &["13:00:00", "01:00:01"]), [Some(46_800.0), Some(3_601.0)]);
        assert_eq!(all(TimeForm::Clock, &["13:00:00", "00:59:59"]), [Some(46_800.0), Some(day + 3_599.0)]);
        // Every midnight counts.
        let nights = all(TimeForm::Clock, &["23:00:00", "01:00:00", "23:00:00", "22:00:00", "01:00:00"]);
        let expected = [82_800.0, day + 3_600.0, day + 82_800.0, day + 79_200.0, 2.0 * day + 3_600.0];
        assert_eq!(nights, expected.map(Some));
    }

    #[test]
    fn dates_count_from_the_first_day_and_follow_their_offset() {
        let cells = [
            "2026-10-24T23:59:59+02:00",
            "2026-10-25 02:30:00+02:00",
            "2026-10-25T02:30:00+01:00",
            "2026-13-01T00:00:00",
            "2026-10-25",
        ];
        let day = 86_400.0;
        let expected = [Some(day - 1.0), Some(day + 9_000.0), Some(day + 12_600.0), None, None];
        assert_eq!(all(TimeForm::Date, &cells), expected);
    }

    #[test]
    fn what_could_be_two_forms_says_so() {
        assert_eq!(forms("08:15:02,250"), [TimeForm::Clock]);
        assert_eq!(forms("08:15"), [TimeForm::Clock, TimeForm::Elapsed]);
        assert_eq!(forms("0:00:01"), [TimeForm::Clock, TimeForm::Elapsed]);
        assert_eq!(forms("61:15.5"), [TimeForm::Elapsed]);
        assert_eq!(forms("31:15.5"), [TimeForm::Elapsed]);
        assert_eq!(forms("2026-11-05T08:15:02Z"), [TimeForm::Date]);
        assert_eq!(forms("12.5"), [] as [TimeForm; 0]);
    }
}
