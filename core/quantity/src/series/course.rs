//! A series as a line that a page can show: of each narrow stretch of time the lowest and the highest, broken at gaps.

use super::{Series, slack};

impl Series {
    /// Lines without a gap longer than `gap`. A gap that lies within one of the `stretches` is too narrow to be seen and
    /// breaks nothing; the lowest and the highest reading are always among the points.
    pub fn course(&self, gap: f64, window: (f64, f64), stretches: usize) -> Vec<Vec<(f64, f64)>> {
        let start = self.times.partition_point(|time| *time < window.0);
        let end = self.times.partition_point(|time| *time <= window.1).max(start);
        let width = (window.1 - window.0).max(1e-9) / stretches.max(1) as f64;
        let stretch = |at: usize| ((self.times[at] - window.0) / width) as usize;
        let mut lines: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut at = start;
        while at < end {
            let (mut low, mut high, mut next) = (at, at, at + 1);
            while next < end && stretch(next) == stretch(at) {
                low = if self.values[next] < self.values[low] { next } else { low };
                high = if self.values[next] > self.values[high] { next } else { high };
                next += 1;
            }
            let is_broken = at == start || f64::from(self.gaps[at - 1]) > slack(gap);
            if is_broken {
                lines.push(Vec::new());
            }
            if let Some(line) = lines.last_mut() {
                // The ends of a line stand where they are: how long a gap is must not hang on what was thinned.
                let ends_here = next == end || f64::from(self.gaps[next - 1]) > slack(gap);
                let mut kept = vec![low.min(high), low.max(high)];
                kept.extend(is_broken.then_some(at));
                kept.extend(ends_here.then_some(next - 1));
                kept.sort_unstable();
                kept.dedup();
                line.extend(kept.into_iter().map(|at| (self.times[at], self.values[at])));
            }
            at = next;
        }
        lines
    }

    /// The lowest and the highest reading within a window, each with its time.
    pub fn extremes(&self, window: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let mut points = self.within(window);
        let first = points.next()?;
        Some(points.fold((first, first), |(low, high), point| {
            (if point.1 < low.1 { point } else { low }, if point.1 > high.1 { point } else { high })
        }))
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::Scale;
    use crate::series::Kind;

    fn series(points: impl IntoIterator<Item = (f64, f64)>) -> Series {
        let mut series = Series::new("level", Kind::Measured(Arc::new(Scale::plain())));
        points.into_iter().for_each(|(at, value)| series.push(at, value));
        series
    }

    #[test]
    fn a_peak_of_one_sample_survives_and_few_points_are_left() {
        let wave = |at: u32| if at == 4321 { 99.0 } else { f64::from(at % 7) };
        let series = series((0..10_000).map(|at| (f64::from(at), wave(at))));
        let lines = series.course(1.0, (0.0, 9_999.0), 100);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].len() <= 204, "{}", lines[0].len());
        assert!(lines[0].contains(&(4321.0, 99.0)));
        assert!(lines[0].windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert_eq!((lines[0][0].0, lines[0][lines[0].len() - 1].0), (0.0, 9_999.0));
    }

    #[test]
    fn a_gap_breaks_the_line_and_its_ends_stand_where_they_are() {
        let series = series((0..100).filter(|at| !(40..60).contains(at)).map(|at| (f64::from(at), f64::from(at))));
        let lines = series.course(3.0, (0.0, 99.0), 10);
        let ends: Vec<(f64, f64)> = lines.iter().map(|line| (line[0].0, line[line.len() - 1].0)).collect();
        assert_eq!(ends, [(0.0, 39.0), (60.0, 99.0)]);
        // Every sample stands alone where each lies further from the next than is allowed.
        assert_eq!(series.course(0.5, (0.0, 99.0), 1000).len(), 80);
        assert!(series.course(3.0, (41.0, 59.0), 10).is_empty());
        assert_eq!(series.extremes((10.0, 20.0)), Some(((10.0, 10.0), (20.0, 20.0))));
    }
}
