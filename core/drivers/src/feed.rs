//! Rows beside an answers file: taken up to the time of the next answer, and nothing waits for a clock. They are a reader's that is
//! followed, or those of a finished log.

use std::collections::VecDeque;
use std::io::Read;

use jiff::SignedDuration;
use jiff::civil::Time;
use standpipe_job::Moment;

use standpipe_log::TimeForm;
use standpipe_stream::{Heard, Live, OneRow};

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
    base: Option<Moment>,
    read: bool,
    /// It has been said that it is followed.
    pub begun: bool,
    /// Of a finished log: when it began, where its time counts from its start.
    log: Option<Option<Time>>,
    /// Up to when it was heard.
    pub heard: Option<Moment>,
}

impl Feed {
    pub fn new(live: Live, source: &str, input: Box<dyn Read>) -> Self {
        Self {
            live,
            source: source.to_owned(),
            input,
            rows: VecDeque::new(),
            base: None,
            read: false,
            begun: false,
            log: None,
            heard: None,
        }
    }

    /// A finished log: all its rows count at their own time, whenever they are read.
    pub fn of_log(live: Live, source: &str, input: Box<dyn Read>, starts: Option<Time>) -> Self {
        Self { log: Some(starts), ..Self::new(live, source, input) }
    }

    /// What is heard up to a time, each with its own; `from`: the time of the job, by which a clock without a date is
    /// understood and a time that was counted from a start begins.
    pub fn until(&mut self, at: Moment, from: Moment) -> std::io::Result<Vec<(Moment, Heard)>> {
        let mut heard = Vec::new();
        while let Some(row) = self.next(from)? {
            let Some(moment) = self.moment(row.at) else { break };
            if moment > at {
                self.rows.push_front(row);
                break;
            }
            let seen = self.seconds(moment);
            let past = moment < from;
            // What came before the job got so far is the past.
            let turned = self.live.row(&row, seen, past && self.log.is_none());
            if !past || self.log.is_none() {
                heard.extend(turned.into_iter().map(|one| (moment, one)));
            }
        }
        let now = self.seconds(at);
        heard.extend(self.live.tick(now).into_iter().map(|one| (at, one)));
        self.heard = Some(at);
        Ok(heard)
    }

    /// The moment of the reader's time 0.
    pub fn base(&self) -> Option<Moment> {
        self.base
    }

    /// Seconds of a moment by the reader's time.
    pub fn seconds(&self, moment: Moment) -> f64 {
        self.base.map_or(0.0, |base| moment.duration_since(base).as_secs_f64())
    }

    fn moment(&self, seconds: f64) -> Option<Moment> {
        let milliseconds = (seconds * 1000.0).round();
        if milliseconds.abs() > 1e15 {
            return None;
        }
        self.base?.checked_add(SignedDuration::from_millis(milliseconds as i64))
    }

    fn next(&mut self, from: Moment) -> std::io::Result<Option<OneRow>> {
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

    fn zero(&self, first: &OneRow, from: Moment) -> Option<Moment> {
        let time = &self.live.understood()?.time;
        let midnight = from.at_wall(from.date().to_datetime(Time::midnight()));
        // The day on which a time of day is nearest to that of the job.
        let nearest = |seconds: f64| {
            let off = seconds - from.duration_since(midnight).as_secs_f64();
            let days = if off > HALF_A_DAY { -1 } else { i64::from(off < -HALF_A_DAY) };
            midnight.checked_add(SignedDuration::from_hours(24 * days))
        };
        match (time.form, self.log) {
            (TimeForm::Date, _) => Some(from.at_wall(time.day?.to_datetime(Time::midnight()))),
            (TimeForm::Clock, _) => nearest(first.at),
            (TimeForm::Elapsed, None) => {
                from.checked_add(SignedDuration::from_millis((first.at * -1000.0).round() as i64))
            }
            (TimeForm::Elapsed, Some(starts)) => {
                let starts = starts?;
                let seconds = starts.duration_since(Time::midnight()).as_secs_f64();
                nearest(seconds)?.checked_add(SignedDuration::from_millis((seconds * 1000.0).round() as i64))
            }
        }
    }
}
