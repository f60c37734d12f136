//! Counts as bars below one another, each with the part of it that is meant.

use super::draw::WIDTH;
use super::scale::Scale;
use super::svg::Svg;

/// A count, and a part of it.
pub struct Bar {
    pub name: String,
    pub all: u64,
    pub part: u64,
    /// What of it is worse: marked at its end.
    pub mark: Option<String>,
}

const ROW: f64 = 34.0;

/// The table of its numbers is for who knows what they are.
pub fn bars(rows: &[Bar]) -> Svg {
    let most = rows.iter().map(|row| row.all).max().unwrap_or(0).max(1);
    let x = Scale::new(0.0, most as f64, 2.0, WIDTH - 2.0);
    let mut svg = Svg::new(WIDTH, ROW * rows.len() as f64 + 4.0);
    for (index, row) in rows.iter().enumerate() {
        let top = index as f64 * ROW;
        svg.text((2.0, top + 13.0), "small", row.name.clone());
        let said = format!("{} of {}", row.part, row.all);
        let said = row.mark.as_ref().map_or(said.clone(), |mark| format!("{said}, {mark}"));
        svg.text((WIDTH - 2.0, top + 13.0), if row.mark.is_some() { "small end strong" } else { "small end" }, said);
        svg.rect((2.0, top + 18.0), x.place(row.all as f64) - 2.0, 11.0, "bar out");
        svg.rect((2.0, top + 18.0), x.place(row.part as f64) - 2.0, 11.0, "bar");
    }
    svg
}
