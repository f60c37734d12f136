//! How a number is spread over jobs: bars as high as there are jobs, and where the middle and nine in ten of them lie.

use super::draw::WIDTH;
use super::scale::{Scale, plain, round_step};
use super::svg::Svg;

/// Jobs by their number, the smallest first; of all of them the middle, and where the twentieth at either end stands.
pub struct Spread {
    pub name: String,
    pub jobs: Vec<(f64, u64)>,
    pub middle: f64,
    pub nine_in_ten: (f64, f64),
}

/// About so many bars where most jobs lie; a few far away do not make them one, as long as there are no more than so many in all.
const BARS: f64 = 12.0;
const MOST_BARS: f64 = 60.0;

pub fn spread(of: &Spread) -> Svg {
    let (Some((least, _)), Some((most, _))) = (of.jobs.first(), of.jobs.last()) else { return Svg::new(WIDTH, 0.0) };
    let whole = of.jobs.iter().all(|(value, _)| value.fract() == 0.0);
    let (low, high) = of.nine_in_ten;
    let rough = ((high - low) / BARS).max((most - least) / MOST_BARS).max(1e-6);
    let step = round_step(rough).max(if whole { 1.0 } else { 0.0 });
    // Whole numbers stand in the middle of their bar.
    let shift = if whole { 0.5 } else { 0.0 };
    let slot = |value: f64| (value / step + shift * f64::from(step <= 1.0) + 1e-9).floor() as i64;
    let start = |slot: i64| (slot as f64 - shift * f64::from(step <= 1.0)) * step;
    let (first, last) = (slot(*least), slot(*most));
    let mut bars = vec![0; (last - first + 1) as usize];
    of.jobs.iter().for_each(|(value, jobs)| bars[(slot(*value) - first) as usize] += jobs);
    let highest = bars.iter().copied().max().unwrap_or(0).max(1);

    let height = 190.0;
    let (left, right, top, bottom) = (40.0, WIDTH - 18.0, 30.0, height - 40.0);
    let x = Scale::new(start(first), start(last + 1), left, right);
    let y = Scale::new(0.0, highest as f64, bottom, top);
    let mut svg = Svg::new(WIDTH, height);
    let (low, high) = (x.place(of.nine_in_ten.0), x.place(of.nine_in_ten.1));
    svg.rect((low, top), (high - low).max(1.0), bottom - top, "window");
    for tick in y.ticks(4).into_iter().filter(|tick| tick.fract() == 0.0) {
        svg.line((left, y.place(tick)), (right, y.place(tick)), "grid");
        svg.text((left - 5.0, y.place(tick) + 4.0), "small end", plain(tick));
    }
    for (slot, jobs) in (first..).zip(&bars).filter(|(_, jobs)| **jobs > 0) {
        let (from, to) = (x.place(start(slot)), x.place(start(slot + 1)));
        svg.rect(
            (from + 0.5, y.place(*jobs as f64)),
            (to - from - 1.0).max(1.0),
            bottom - y.place(*jobs as f64),
            "bar",
        );
    }
    for tick in x.ticks(6).into_iter().filter(|tick| !whole || tick.fract() == 0.0) {
        svg.line((x.place(tick), bottom), (x.place(tick), bottom + 4.0), "axis");
        svg.text((x.place(tick), bottom + 16.0), "small mid", plain(tick));
    }
    svg.line((left, bottom), (right, bottom), "axis");
    svg.line((x.place(of.middle), top - 8.0), (x.place(of.middle), top), "give");
    svg.text((4.0, 13.0), "small", "jobs");
    let at = x.place(of.middle).clamp(left + 40.0, right - 40.0);
    svg.text((at, top - 11.0), "small mid strong", format!("half {}", plain(of.middle)));
    svg.text(((left + right) / 2.0, height - 8.0), "small mid", of.name.clone());
    svg
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::picture::svg::Shape;

    fn bars(jobs: &[(f64, u64)]) -> Vec<(f64, f64)> {
        let of = Spread {
            name: "n".to_owned(),
            jobs: jobs.to_vec(),
            middle: jobs[0].0,
            nine_in_ten: (jobs[0].0, jobs[0].0),
        };
        let shapes = spread(&of).shapes.into_iter();
        shapes
            .filter_map(|shape| match shape {
                Shape::Rect { x, width, height, class: "bar", .. } => Some((x + width / 2.0, height)),
                _ => None,
            })
            .collect()
    }

    /// By hand: the picture is 120 high, so that of three jobs at 1 and one at 4 the bars are 120 and 40, at an eighth and at
    /// seven eighths of the 302 from left to right.
    #[test]
    fn bars_are_as_high_as_there_are_jobs_and_stand_at_their_number() {
        assert_eq!(bars(&[(1.0, 3), (4.0, 1)]), [(77.75, 120.0), (304.25, 40.0)]);
        let many: Vec<(f64, u64)> = (0..400).map(|n| (f64::from(n) * 0.013, 1)).collect();
        let found = bars(&many);
        assert!((20..=61).contains(&found.len()), "{}", found.len());
        assert_eq!(bars(&[(0.004_1, 2)]).len(), 1);
    }
}
