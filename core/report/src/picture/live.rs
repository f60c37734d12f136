//! The curve of a reader while somebody looks on: what came last, over the time of the day, with the window that is awaited.

use super::collect::{number_in, unit_of};
use super::draw_course::draw_course;
use super::svg::Svg;
use super::{Course, Trace};
use standpipe_job::Moment;
use standpipe_job::plan::Plan;
use standpipe_quantity::Quantity;

/// More points than this are narrower than a dot on a phone, and weigh something each time.
const MOST: usize = 120;

/// `points`: seconds after `zero`, in their order. None where there is too little to draw.
pub fn live(
    plan: &Plan,
    zero: Moment,
    points: &[(f64, Quantity)],
    window: Option<(&Quantity, &Quantity)>,
) -> Option<Svg> {
    let (_, last) = points.last().filter(|_| points.len() > 1)?;
    let unit = unit_of(plan, last);
    let number = |quantity: &Quantity| number_in(plan, quantity, &unit);
    let every = points.len().div_ceil(MOST);
    // The last one always counts.
    let skip = (points.len() - 1) % every;
    let line = points.iter().skip(skip).step_by(every);
    let line: Vec<[f64; 2]> = line.filter_map(|(second, value)| Some([*second, number(value)?])).collect();
    let course = Course {
        window: window.and_then(|(low, high)| Some([number(low)?, number(high)?])),
        unit,
        traces: vec![Trace { zero: Some(zero), lines: vec![line], ..Trace::default() }],
        ..Course::default()
    };
    Some(draw_course(&course))
}
