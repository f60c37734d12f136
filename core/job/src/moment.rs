//! A moment: what the clock on the wall showed, and how far that was from UTC.
//!
//! The clock says when people worked, the distance in which order: in autumn an hour comes twice. Written as in RFC 3339,
//! `2026-11-23T08:05:00+01:00`, always with the distance, in whole minutes.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use jiff::civil::{Date, DateTime, DateTimeArithmetic, Time};
use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;
use jiff::{SignedDuration, ZonedDateTime};
use serde::{Deserialize, Serialize};

#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Moment {
    wall: DateTime,
    /// Minutes east of UTC.
    minutes: i16,
}

impl Moment {
    /// What a clock shows that is so many minutes ahead of UTC; at most a day either way.
    pub fn new(wall: DateTime, minutes: i16) -> Self {
        Self { wall, minutes: minutes.clamp(-MOST, MOST) }
    }

    /// To the second.
    pub fn now() -> Self {
        let now = ZonedDateTime::now();
        let wall = now.datetime().round(jiff::Unit::Second).unwrap_or_default();
        Self::new(wall, (now.offset().seconds() / 60) as i16)
    }

    /// What the clock on the wall shows.
    pub fn wall(self) -> DateTime {
        self.wall
    }

    /// How far ahead of UTC that clock is.
    pub fn minutes_ahead(self) -> i16 {
        self.minutes
    }

    pub fn date(self) -> Date {
        self.wall.date()
    }

    pub fn time(self) -> Time {
        self.wall.time()
    }

    /// As [`jiff::civil::DateTime::strftime`], of the clock on the wall.
    pub fn strftime(self, format: &str) -> String {
        self.wall.strftime(format).to_string()
    }

    /// Another reading of the same clock.
    pub fn at_wall(self, wall: DateTime) -> Self {
        Self { wall, ..self }
    }

    pub fn duration_since(self, earlier: Self) -> SignedDuration {
        self.utc() - earlier.utc()
    }

    /// `None` beyond the calendar.
    pub fn checked_add(self, time: impl Into<DateTimeArithmetic>) -> Option<Self> {
        Some(self.at_wall(self.wall.checked_add(time).ok()?))
    }

    pub fn saturating_add(self, time: impl Into<DateTimeArithmetic>) -> Self {
        self.at_wall(self.wall.saturating_add(time))
    }

    /// Since the beginning of the calendar.
    fn utc(self) -> SignedDuration {
        self.wall.duration_since(DateTime::MIN) - SignedDuration::from_mins(i64::from(self.minutes))
    }
}

/// Minutes of a day: no clock is further from UTC.
const MOST: i16 = 24 * 60 - 1;

impl PartialOrd for Moment {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Moment {
    fn cmp(&self, other: &Self) -> Ordering {
        self.utc().cmp(&other.utc()).then(self.minutes.cmp(&other.minutes))
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (sign, minutes) = (if self.minutes < 0 { '-' } else { '+' }, self.minutes.unsigned_abs());
        write!(f, "{}{sign}{:02}:{:02}", self.wall, minutes / 60, minutes % 60)
    }
}

impl From<Moment> for String {
    fn from(moment: Moment) -> Self {
        moment.to_string()
    }
}

impl TryFrom<String> for Moment {
    type Error = String;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl FromStr for Moment {
    type Err = String;

    /// A date, a time of day and a distance from UTC in whole minutes; nothing of it may be left out.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wanted = || format!("`{text}` is not a date and time with an offset from UTC");
        let pieces = Pieces::parse(text).map_err(|_| wanted())?;
        let (time, offset) = (pieces.time().ok_or_else(wanted)?, pieces.to_numeric_offset().ok_or_else(wanted)?);
        if pieces.time_zone_annotation().is_some() {
            return Err(wanted());
        }
        Ok(Self::new(pieces.date().to_datetime(time), whole_minutes(offset).ok_or_else(wanted)?))
    }
}

fn whole_minutes(offset: Offset) -> Option<i16> {
    let seconds = offset.seconds();
    let minutes = i16::try_from(seconds / 60).ok()?;
    (seconds % 60 == 0 && minutes.abs() <= MOST).then_some(minutes)
}

#[cfg(test)]
mod tests;
