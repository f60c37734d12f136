//! Readings over time: what came when, and where nothing came.
//!
//! Between two samples nothing is known but that both were so; what a script concludes keeps what is certain and what is
//! merely possible apart ([`Times`]). Equal readings in a row are kept as their first and last. Beyond a million points
//! neighbours are thinned to their lowest and highest, so that an excursion is never lost.

mod course;
mod times;

#[cfg(test)]
mod tests;

use std::collections::VecDeque;
use std::sync::Arc;

use crate::Scale;

pub use times::Times;

const MOST: usize = 1 << 20;
/// A series that grew to so many points gets room for the most at once: untouched room costs nothing, moving does.
const MANY: usize = 1 << 14;
/// Of fewer samples nobody can say how regularly they come. No source: own choice.
const FEW: f64 = 20.0;
/// Two things that hardly move are alike by chance; over so many steps they are not. No source: own choice.
const TELLING: f64 = 5.0;
/// Neighbours that become two, at first.
const BUCKET: f64 = 4.0;

#[derive(Clone, Debug)]
pub enum Kind {
    Measured(Arc<Scale>),
    /// Values are numbers of these words.
    Words(Vec<String>),
}

#[derive(Clone, Debug)]
pub struct Series {
    pub name: String,
    pub kind: Kind,
    /// Seconds, rising.
    pub times: Vec<f64>,
    /// In base units.
    pub values: Vec<f64>,
    /// The longest time between samples from one point to the next.
    gaps: Vec<f32>,
    /// Samples that came.
    pub count: u64,
    /// The longest time that was thinned to two points; 0 where nothing was.
    coarse: f64,
    /// Of the last sample, which may have been thinned away.
    latest: f64,
    most: usize,
    cut: bool,
}

impl Series {
    pub fn new(name: impl Into<String>, kind: Kind) -> Self {
        Self {
            name: name.into(),
            kind,
            times: Vec::new(),
            values: Vec::new(),
            gaps: Vec::new(),
            count: 0,
            coarse: 0.0,
            latest: f64::NAN,
            most: MOST,
            cut: false,
        }
    }

    /// Takes a sample that is not earlier than the one before; one without a value is no sample.
    pub fn push(&mut self, at: f64, value: f64) {
        if !value.is_finite() || !at.is_finite() || self.cut {
            return;
        }
        let count = self.times.len();
        if let ([.., before, last], [.., gap_before]) = (self.values.as_slice(), self.gaps.as_mut_slice()) {
            let gap = (at - self.latest) as f32;
            let same = *last == value;
            if gap < 0.0 || gap == 0.0 && same {
                return;
            }
            if same && *before == value && gap <= *gap_before * 1.5 && gap * 1.5 >= *gap_before {
                self.times[count - 1] = at;
                self.latest = at;
                *gap_before = gap_before.max(gap);
                self.count += 1;
                return;
            }
            self.gaps.push(gap);
        } else if let Some(last) = self.values.last() {
            let gap = (at - self.latest) as f32;
            if gap < 0.0 || gap == 0.0 && *last == value {
                return;
            }
            self.gaps.push(gap);
        }
        if count == MANY {
            self.times.reserve_exact(self.most + 1 - count.min(self.most));
            self.values.reserve_exact(self.most + 1 - count.min(self.most));
            self.gaps.reserve_exact(self.most + 1 - count.min(self.most));
        }
        self.times.push(at);
        self.values.push(value);
        self.latest = at;
        self.count += 1;
        if count >= self.most {
            self.thin();
        }
    }

    fn thin(&mut self) {
        // Words have no lowest and highest: what comes later is left unknown.
        if matches!(self.kind, Kind::Words(_)) {
            self.cut = true;
            return;
        }
        let Some((first, last)) = self.span() else { return };
        let mut width = self.coarse.max(BUCKET * (last - first) / self.times.len() as f64);
        while self.times.len() * 2 > self.most && width.is_finite() && width > 0.0 {
            self.thin_to(width);
            self.coarse = width;
            width *= 2.0;
        }
        // All at one moment: that is no series.
        self.cut = self.times.len() >= self.most;
    }

    /// Keeps the lowest and the highest of all points in each stretch of so many seconds.
    fn thin_to(&mut self, width: f64) {
        // Of points, and of gaps; what is kept never overtakes what is looked at.
        let (mut kept, mut joined) = (0, 0);
        let (mut at, mut before) = (0, 0f32);
        let count = self.times.len();
        while at < count {
            let stretch = (self.times[at] / width).floor();
            let (mut end, mut low, mut high, mut inside) = (at + 1, at, at, 0f32);
            while end < count && (self.times[end] / width).floor() == stretch {
                if self.values[end].total_cmp(&self.values[low]).is_lt() {
                    low = end;
                }
                if self.values[end].total_cmp(&self.values[high]).is_ge() {
                    high = end;
                }
                inside = inside.max(self.gaps[end - 1]);
                end += 1;
            }
            let after = self.gaps.get(end - 1).copied().unwrap_or(0.0);
            if kept > 0 {
                self.gaps[joined] = before.max(inside);
                joined += 1;
            }
            let (first, second) = (low.min(high), low.max(high));
            (self.times[kept], self.values[kept]) = (self.times[first], self.values[first]);
            kept += 1;
            if first != second {
                self.gaps[joined] = inside;
                joined += 1;
                (self.times[kept], self.values[kept]) = (self.times[second], self.values[second]);
                kept += 1;
            }
            before = after.max(inside);
            at = end;
        }
        self.times.truncate(kept);
        self.values.truncate(kept);
        self.gaps.truncate(joined);
    }

    pub fn is_empty(&self) -> bool {
        self.times.is_empty()
    }

    pub fn len(&self) -> usize {
        self.times.len()
    }

    pub fn span(&self) -> Option<(f64, f64)> {
        Some((*self.times.first()?, *self.times.last()?))
    }

    /// Seconds between samples, on the average.
    pub fn spacing(&self) -> Option<f64> {
        let (first, last) = self.span()?;
        (self.count > 1 && last > first).then(|| (last - first) / (self.count - 1) as f64)
    }

    /// Seconds between the samples of a reader that writes regularly. None where more than one in twenty comes more than half
    /// as late again or as early, and of so few samples that it can't be told.
    pub fn pace(&self) -> Option<f64> {
        // Of equal readings only the first and the last are kept, at nearly equal distances.
        let steps = self.times.windows(2).zip(&self.gaps).filter(|(_, gap)| **gap > 0.0);
        let mut steps: Vec<(f64, f64)> = steps
            .map(|(pair, gap)| (f64::from(*gap), ((pair[1] - pair[0]) / f64::from(*gap)).round().max(1.0)))
            .collect();
        steps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let count: f64 = steps.iter().map(|(_, count)| count).sum();
        let mut passed = 0.0;
        let (middle, _) = steps.iter().copied().find(|(_, steps)| {
            passed += steps;
            passed * 2.0 >= count
        })?;
        let regular = steps.iter().filter(|(gap, _)| *gap <= middle * 1.5 && *gap * 1.5 >= middle);
        let regular: f64 = regular.map(|(_, count)| count).sum();
        (count >= FEW && regular >= count * 0.95).then_some(middle)
    }

    pub fn longest_gap(&self) -> f64 {
        self.gaps.iter().copied().fold(0f32, f32::max).into()
    }

    /// Where more than so many seconds lie between samples, within a window.
    pub fn gaps(&self, limit: f64, window: (f64, f64)) -> Vec<(f64, f64)> {
        let mut found = Vec::new();
        let Some((first, last)) = self.span() else { return vec![window] };
        if first - window.0 > slack(limit) {
            found.push((window.0, first.min(window.1)));
        }
        for (at, gap) in self.gaps.iter().enumerate() {
            let (from, to) = (self.times[at].max(window.0), self.times[at + 1].min(window.1));
            if f64::from(*gap) > slack(limit) && to > from {
                found.push((from, to));
            }
        }
        if window.1 - last > slack(limit) {
            found.push((last.max(window.0), window.1));
        }
        found
    }

    /// When a condition on single readings held. Samples further apart than `gap` leave open what was between them.
    pub fn when(&self, gap: f64, window: (f64, f64), holds: impl Fn(f64) -> bool) -> Times {
        let (mut certain, mut out) = (Vec::new(), Vec::new());
        let mut at = 0;
        while at < self.times.len() {
            let state = holds(self.values[at]);
            let mut end = at;
            while end + 1 < self.times.len()
                && f64::from(self.gaps[end]) <= slack(gap)
                && holds(self.values[end + 1]) == state
            {
                end += 1;
            }
            // Of thinned neighbours it is not known which side of a change the lost ones lay on.
            let unsure = |change: bool| if change { self.coarse } else { 0.0 };
            let run = (self.times[at] + unsure(at > 0), self.times[end] - unsure(end + 1 < self.times.len()));
            if run.0 <= run.1 && run.1 >= window.0 && run.0 <= window.1 {
                let clipped = (run.0.max(window.0), run.1.min(window.1));
                if state {
                    certain.push(clipped)
                } else {
                    out.push(clipped)
                };
            }
            at = end + 1;
        }
        Times { window, certain, out, what: String::new() }
    }

    /// The points within a window; where readings were equal over an end of it, with the value there.
    pub fn within(&self, window: (f64, f64)) -> impl Iterator<Item = (f64, f64)> {
        let start = self.times.partition_point(|time| *time < window.0);
        let end = self.times.partition_point(|time| *time <= window.1).max(start);
        let held = |next: usize, edge: f64| {
            let before = next.checked_sub(1)?;
            let value = *self.values.get(next)?;
            (self.values[before] == value && self.times[before] < edge && edge < self.times[next])
                .then_some((edge, value))
        };
        let opening = held(start, window.0);
        let closing = held(end, window.1);
        let points = (start..end).map(|at| (self.times[at], self.values[at]));
        opening.into_iter().chain(points).chain(closing)
    }

    /// The latest reading not after a moment and not older than `gap`.
    pub fn at(&self, moment: f64, gap: f64) -> Option<f64> {
        let next = self.times.partition_point(|time| *time <= moment + 1e-9);
        let before = next.checked_sub(1)?;
        let held = self.times.get(next).is_some() && self.values.get(next) == self.values.get(before);
        let age = if held {
            f64::from(self.gaps[before]).min(moment - self.times[before])
        } else {
            moment - self.times[before]
        };
        (age <= slack(gap)).then(|| self.values[before])
    }

    /// The longest time over which every reading was the same, without a gap.
    pub fn flat(&self, gap: f64, window: (f64, f64)) -> f64 {
        let (mut longest, mut from) = (0f64, None::<usize>);
        for at in 0..self.times.len() {
            let goes_on =
                at > 0 && self.values[at] == self.values[at - 1] && f64::from(self.gaps[at - 1]) <= slack(gap);
            let start = if goes_on { from.unwrap_or(at) } else { at };
            from = Some(start);
            longest = longest.max(self.times[at].min(window.1) - self.times[start].max(window.0));
        }
        longest
    }

    /// The time of the first sample above a level that comes after one below it, no further apart than `gap`.
    pub fn rose(&self, level: f64, gap: f64, window: (f64, f64)) -> Option<f64> {
        let above = |value: f64| value > level && !crate::close(value, level);
        (1..self.times.len())
            .filter(|at| (window.0..=window.1).contains(&self.times[*at]))
            .find(|at| {
                above(self.values[*at]) && !above(self.values[at - 1]) && f64::from(self.gaps[at - 1]) <= slack(gap)
            })
            .map(|at| self.times[at])
    }

    /// By how much the readings rose at most within any stretch of so many seconds; none where there is no reading.
    pub fn rise(&self, seconds: f64, window: (f64, f64)) -> Option<f64> {
        let points: Vec<(f64, f64)> = self.within(window).collect();
        // Places of what may still be the lowest of a stretch, their values rising.
        let mut low: VecDeque<usize> = VecDeque::new();
        let mut most: Option<f64> = None;
        for (at, (time, value)) in points.iter().enumerate() {
            while low.back().is_some_and(|back| points[*back].1 >= *value) {
                low.pop_back();
            }
            low.push_back(at);
            while low.front().is_some_and(|front| points[*front].0 < time - slack(seconds)) {
                low.pop_front();
            }
            let rise = low.front().map_or(0.0, |front| value - points[*front].1);
            most = Some(most.map_or(rise, |most| most.max(rise)));
        }
        most
    }

    /// Whether every reading is one that the other series had at most so many seconds before or after, to the steps in
    /// which the coarser of the two is written. Looked at is where the other lasts as long on both sides. None where that says
    /// nothing, since it hardly moves.
    pub fn repeats(&self, other: &Series, late: f64, window: (f64, f64)) -> Option<bool> {
        let (first, last) = other.span()?;
        let window = (window.0.max(first + late), window.1.min(last - late));
        let steps = [self.resolution(window), other.resolution(window)].into_iter().flatten();
        let step = steps.fold(0.0, f64::max) * 1.01 + 1e-9;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for (at, value) in self.within(window) {
            let near = other.within((at - late, at + late));
            let (least, most) = near.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), (_, value)| {
                (least.min(value), most.max(value))
            });
            if least > most {
                continue;
            }
            if value < least - step || value > most + step {
                return Some(false);
            }
            (low, high) = (low.min(value), high.max(value));
        }
        (high - low > TELLING * step).then_some(true)
    }

    /// Steps between neighbours that are larger than this.
    pub fn jumps(&self, step: f64, window: (f64, f64)) -> usize {
        let points: Vec<(f64, f64)> = self.within(window).collect();
        points.windows(2).filter(|pair| (pair[1].1 - pair[0].1).abs() > step * (1.0 + 1e-9)).count()
    }

    /// The smallest step between two different neighbours.
    pub fn resolution(&self, window: (f64, f64)) -> Option<f64> {
        let points: Vec<(f64, f64)> = self.within(window).collect();
        let steps = points.windows(2).map(|pair| (pair[1].1 - pair[0].1).abs());
        // What is left of 1e-9 is from converting units.
        steps.filter(|step| *step > 1e-9).min_by(f64::total_cmp)
    }

    /// Whether two series have the same readings at the same times.
    pub fn same_as(&self, other: &Series) -> bool {
        self.times == other.times && self.values == other.values
    }

    pub fn word(&self, value: f64) -> Option<&str> {
        match &self.kind {
            Kind::Words(words) => words.get(value as usize).map(String::as_str),
            Kind::Measured(_) => None,
        }
    }
}

/// A gap as long as the limit is none, the last digits of times aside.
fn slack(limit: f64) -> f64 {
    limit * (1.0 + 1e-6) + 1e-6
}
