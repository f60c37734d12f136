//! A reader beside an answers file: its rows are taken up to the time of the next answer, and nothing waits for a clock.

use std::collections::VecDeque;
use std::io::Read;

use jiff::civil::DateTime;
use jiff::{SignedDuration, ToSpan};

use crate::live::{Heard, Live, OneRow};
use crate::log::TimeForm;

const CHUNK: usize = 64 << 10;
/// A clock without a date that is so far off means the day before or after.
const HALF_A_DAY: f64 = 43_200.0;

pub struct Feed {
    pub live: Live,
    /// What it is called: a file or standard input.
    pub source: String,
    input: Box<dyn Read>,
    rows: VecDeque<OneRow>,
    /// The reader's time 0.
    base: Option<DateTime>,
    read: bool,
    /// It has been said that it is followed.
    pub begun: bool,
}

impl Feed {
    pub fn new(live: Live, source: &str, input: Box<dyn Read>) -> Self {
        Self { live, source: source.to_owned(), input, rows: VecDeque::new(), base: None, read: false, begun: false }
    }

    /// What is heard up to a time, each with its own; `from`: the time of the job, by which a clock without a date is
    /// understood and a time that was counted from a start begins.
    pub fn until(&mut self, at: DateTime, from: DateTime) -> std::io::Result<Vec<(DateTime, Heard)>> {
        let mut heard = Vec::new();
        while let Some(row) = self.next(from)? {
            let Some(moment) = self.moment(row.at) else { break };
            if moment > at {
                self.rows.push_front(row);
                break;
            }
            let seen = self.seconds(moment);
            // What came before the job got so far is the past.
            heard.extend(self.live.row(&row, seen, moment < from).into_iter().map(|one| (moment, one)));
        }
        let now = self.seconds(at);
        heard.extend(self.live.tick(now).into_iter().map(|one| (at, one)));
        Ok(heard)
    }

    /// Seconds of a moment by the reader's time.
    pub fn seconds(&self, moment: DateTime) -> f64 {
        self.base.map_or(0.0, |base| moment.duration_since(base).as_secs_f64())
    }

    fn moment(&self, seconds: f64) -> Option<DateTime> {
        let milliseconds = (seconds * 1000.0).round();
        if milliseconds.abs() > 1e15 {
            return None;
        }
        self.base?.checked_add(SignedDuration::from_millis(milliseconds as i64)).ok()
    }

    fn next(&mut self, from: DateTime) -> std::io::Result<Option<OneRow>> {
        while self.rows.is_empty() && !self.read {
            let mut buffer = vec![0; CHUNK];
            let got = self.input.read(&mut buffer)?;
            self.read = got == 0;
            self.rows.extend(self.live.keep_rows(&buffer[..got], self.read)?);
        }
        let row = self.rows.pop_front();
        if let (Some(row), None) = (&row, self.base) {
            self.base = self.zero(row, from);
        }
        Ok(row)
    }

    /// The moment of the reader's time 0.
    fn zero(&self, first: &OneRow, from: DateTime) -> Option<DateTime> {
        let time = &self.live.understood()?.time;
        let midnight = from.date().to_datetime(jiff::civil::Time::midnight());
        match time.form {
            TimeForm::Date => Some(time.day?.to_datetime(jiff::civil::Time::midnight())),
            TimeForm::Elapsed => from.checked_sub(SignedDuration::from_millis((first.at * 1000.0).round() as i64)).ok(),
            TimeForm::Clock => {
                let off = first.at - from.duration_since(midnight).as_secs_f64();
                let days = if off > HALF_A_DAY { -1 } else { i64::from(off < -HALF_A_DAY) };
                midnight.checked_add(days.days()).ok()
            }
        }
    }
}
