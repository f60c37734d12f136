//! Numbers with the interval that each is known to lie in, below one another on one scale.

use super::draw::{WIDTH, ends};
use super::scale::{Scale, plain};
use super::svg::Svg;

/// A number with its ends.
pub struct Interval {
    pub name: String,
    pub at: f64,
    pub low: f64,
    pub high: f64,
    pub shown: String,
}

const ROW: f64 = 36.0;

/// `limit`: what none should pass.
pub fn intervals(rows: &[Interval], limit: Option<f64>, unit: &str) -> Svg {
    let (low, high) = ends(rows.iter().flat_map(|row| [row.low, row.high]).chain(limit).chain([0.0]));
    let x = Scale::new(low, high + (high - low) * 0.02, 12.0, WIDTH - 12.0);
    let bottom = ROW * rows.len() as f64 + 4.0;
    let mut svg = Svg::new(WIDTH, bottom + 38.0);
    for tick in x.ticks(6) {
        svg.line((x.place(tick), 0.0), (x.place(tick), bottom), "grid");
        svg.text((x.place(tick), bottom + 15.0), "small mid", plain(tick));
    }
    if let Some(limit) = limit {
        svg.line((x.place(limit), 0.0), (x.place(limit), bottom), "limit");
    }
    for (index, row) in rows.iter().enumerate() {
        let top = index as f64 * ROW;
        svg.text((2.0, top + 13.0), "small on-bar", row.name.clone());
        svg.text((WIDTH - 2.0, top + 13.0), "small end on-bar", row.shown.clone());
        svg.line((x.place(row.low), top + 25.0), (x.place(row.high), top + 25.0), "give");
        svg.circle((x.place(row.at), top + 25.0), 4.5, "dot");
    }
    svg.line((12.0, bottom), (WIDTH - 12.0, bottom), "axis");
    svg.text((WIDTH / 2.0, bottom + 32.0), "small mid", unit);
    svg
}
