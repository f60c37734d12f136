//! Whether the readings of one column can be relied on. Takes no time from a clock: every call says what time it is.

use std::collections::VecDeque;

use standpipe_job::StreamStatus;
use standpipe_job::said::{StreamNote, span};

/// Without a row for so long a reading is stale, or for three of the reader's own intervals where that is longer. No source:
/// own choice; a shop sets its own with `stale_after`.
const STALE: f64 = 10.0;
const INTERVALS: f64 = 3.0;
/// A reading that does not change at all for so long is taken for frozen. No source: own choice; where a display of whole
/// degrees changes more slowly, a shop sets `frozen_after`.
const FROZEN: f64 = 180.0;
/// How far back readings are kept, and how many at most: a sheet takes no more than some hundred. No source: own choice; half an hour
/// shows how a warm-up bends.
const RECENT: f64 = 1800.0;
const MOST: usize = 20_000;
/// What lies beyond so long a gap belongs to another course.
const ANOTHER: f64 = 300.0;
const MOST_TOLD: usize = 240;

/// Seconds; what is not given has a default.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    pub stale: Option<f64>,
    pub frozen: Option<f64>,
}

impl Limits {
    /// Seconds after which a reading is stale, of a reader with this interval.
    pub fn stale_after(&self, interval: impl FnOnce() -> f64) -> f64 {
        self.stale.unwrap_or_else(|| STALE.max(INTERVALS * interval()))
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// By the reader's own time.
    pub at: f64,
    /// When it came, by the time of the one who follows.
    pub seen: f64,
    pub value: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Condition {
    /// Nothing has come, or only what was there before.
    Nothing,
    Good,
    Stale,
    Frozen,
    Over,
}

/// The readings of one column.
#[derive(Clone, Debug)]
pub struct Watch {
    limits: Limits,
    recent: VecDeque<Reading>,
    /// The reader's time at which the value last changed.
    changed: f64,
    condition: Condition,
    /// When the last row came, also of a stream that has begun anew since.
    heard: Option<f64>,
    /// Since when, by the time of the one who follows, no gap was longer than a reading lasts.
    unbroken: Option<f64>,
}

impl Watch {
    pub fn new(limits: Limits) -> Self {
        Self {
            limits,
            recent: VecDeque::new(),
            changed: 0.0,
            condition: Condition::Nothing,
            heard: None,
            unbroken: None,
        }
    }

    pub fn last(&self) -> Option<&Reading> {
        self.recent.back()
    }

    /// Seconds after which a reading is stale.
    pub fn stale_after(&self) -> f64 {
        self.limits.stale_after(|| self.interval())
    }

    pub fn frozen_after(&self) -> f64 {
        self.limits.frozen.unwrap_or(FROZEN)
    }

    /// The middle of the last intervals between rows.
    fn interval(&self) -> f64 {
        let mut gaps: Vec<f64> = self.recent.iter().rev().take(16).map(|reading| reading.at).collect();
        gaps = gaps.windows(2).map(|pair| pair[0] - pair[1]).collect();
        gaps.sort_by(f64::total_cmp);
        gaps.get(gaps.len() / 2).copied().unwrap_or(0.0)
    }

    /// A row. What was there before anyone followed is history: it tells of the past and is no reading of now.
    pub fn row(&mut self, reading: Reading, history: bool) -> Option<(StreamStatus, StreamNote)> {
        if !reading.value.is_finite() || !reading.at.is_finite() {
            return None;
        }
        let last = self.recent.back().copied();
        if let Some(last) = last
            && reading.at <= last.at
        {
            // The same moment again: another value is taken, but it is no newer. What goes back is not taken at all.
            if reading.at == last.at
                && reading.value != last.value
                && let Some(newest) = self.recent.back_mut()
            {
                newest.value = reading.value;
                self.changed = reading.at;
            }
            return None;
        }
        let heard = self.heard.replace(reading.seen);
        let limit = self.stale_after();
        let gap = last.map_or(0.0, |last| reading.at - last.at);
        if last.is_none_or(|last| last.value != reading.value) || gap > limit {
            self.changed = reading.at;
        }
        let waited = heard.map_or(0.0, |heard| reading.seen - heard);
        if self.unbroken.is_none() || gap.max(waited) > limit {
            self.unbroken = Some(reading.seen);
        }
        if gap > ANOTHER {
            self.recent.clear();
        }
        self.recent.push_back(reading);
        while self.recent.len() > MOST || self.recent.front().is_some_and(|first| reading.at - first.at > RECENT) {
            self.recent.pop_front();
        }
        if history {
            return None;
        }
        let before = std::mem::replace(&mut self.condition, Condition::Good);
        if reading.at - self.changed >= self.frozen_after() {
            self.condition = Condition::Frozen;
            let turned = before != Condition::Frozen;
            return turned.then_some((StreamStatus::Frozen, StreamNote::NoChange(reading.at - self.changed)));
        }
        match before {
            Condition::Nothing | Condition::Good if gap > limit && last.is_some() => {
                Some((StreamStatus::Again, StreamNote::Gap(gap)))
            }
            Condition::Stale | Condition::Over => {
                let quiet = heard.map_or(gap, |heard| gap.max(reading.seen - heard));
                Some((StreamStatus::Again, StreamNote::Gap(quiet)))
            }
            Condition::Frozen => Some((StreamStatus::Again, StreamNote::Changes)),
            Condition::Nothing | Condition::Good => None,
        }
    }

    /// Time has passed.
    pub fn tick(&mut self, now: f64) -> Option<(StreamStatus, StreamNote)> {
        let age = self.age(now)?;
        if matches!(self.condition, Condition::Good | Condition::Frozen) && age > self.stale_after() {
            self.condition = Condition::Stale;
            return Some((StreamStatus::Stale, StreamNote::NoReading(age)));
        }
        None
    }

    /// The stream begins anew: file replaced, cut off, or another day. Times before it say nothing about those after it.
    pub fn begin_anew(&mut self) {
        let spoken = self.condition;
        self.recent.clear();
        self.changed = 0.0;
        self.unbroken = None;
        self.condition = if spoken == Condition::Nothing { Condition::Nothing } else { Condition::Stale };
    }

    pub fn over(&mut self) {
        self.condition = Condition::Over;
    }

    /// Seconds since the last reading came.
    pub fn age(&self, now: f64) -> Option<f64> {
        self.recent.back().map(|last| (now - last.seen).max(0.0))
    }

    /// The reading of now, or why there is none.
    pub fn now(&self, now: f64) -> Result<Reading, String> {
        let Some(last) = self.recent.back() else { return Err("no reading has come yet".to_owned()) };
        let age = self.age(now).unwrap_or(f64::INFINITY);
        match self.condition {
            Condition::Nothing => Err("no new reading has come yet".to_owned()),
            Condition::Over => Err("it has ended".to_owned()),
            _ if age > self.stale_after() => Err(format!("no reading for {}", span(age))),
            Condition::Frozen => Err(format!("no change for {}", span(last.at - self.changed))),
            Condition::Good => Ok(*last),
            Condition::Stale => Err(format!("no reading for {}", span(age))),
        }
    }

    /// Recent readings, thinned to what a sheet takes.
    pub fn recent(&self) -> Vec<Reading> {
        let every = self.recent.len().div_ceil(MOST_TOLD).max(1);
        // The last one always counts.
        let skip = (self.recent.len().max(1) - 1) % every;
        self.recent.iter().skip(skip).step_by(every).copied().collect()
    }

    /// Whether readings came through a stretch of time without a gap; with the largest gap, in seconds.
    pub fn covers(&self, from: f64, to: f64) -> (bool, f64) {
        // What is no longer kept one by one is known to have had no gap, or to have had one.
        let known = self.recent.front().map_or(from, |first| first.seen);
        let mut moment = if self.unbroken.is_some_and(|since| since <= from) { from.max(known.min(to)) } else { from };
        let mut largest: f64 = 0.0;
        for reading in self.recent.iter().filter(|reading| reading.seen <= to) {
            if reading.seen >= from {
                largest = largest.max(reading.seen - moment);
            }
            moment = moment.max(reading.seen);
        }
        largest = largest.max(to - moment);
        let good = self.condition == Condition::Good && largest <= self.stale_after();
        (good && self.recent.iter().any(|reading| reading.seen >= from), largest)
    }
}
