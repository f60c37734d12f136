//! Times as a list of signers has them: `YYYYMMDD`, `YYYYMMDDHHMM` or `YYYYMMDDHHMMSS`, with `Z` for UTC.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{Offset, TimeZone};
use standpipe_job::Moment;

/// The moment, and whether the text said on which clock.
pub fn read(text: &str, zone: &TimeZone) -> Option<(Timestamp, bool)> {
    let digits = text.strip_suffix('Z').unwrap_or(text);
    if !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let number = |from: usize, to: usize| digits.get(from..to).map_or(Some(0), |part| part.parse::<i8>().ok());
    let whole = match digits.len() {
        8 | 12 | 14 => digits,
        _ => return None,
    };
    let date = DateTime::new(
        whole[..4].parse().ok()?,
        number(4, 6)?,
        number(6, 8)?,
        number(8, 10)?,
        number(10, 12)?,
        number(12, 14)?,
        0,
    );
    let utc = text.ends_with('Z');
    let zone = if utc { &TimeZone::UTC } else { zone };
    Some((zone.to_timestamp(date.ok()?).ok()?, utc))
}

pub fn of(moment: Moment) -> Option<Timestamp> {
    let offset = Offset::from_seconds(i32::from(moment.minutes_ahead()) * 60).ok()?;
    offset.to_timestamp(moment.wall()).ok()
}
