//! A curve of letters: readings over time, the window, and what happened when.

use standpipe_log::LogClock;
use standpipe_quantity::series::{Kind, Series};
use standpipe_quantity::{Quantity, Units};

const HEIGHT: usize = 13;
const MARGIN: usize = 9;

pub struct Plot<'a> {
    pub series: &'a Series,
    pub window: Option<&'a (Quantity, Quantity)>,
    /// Moments with the words for them.
    pub events: &'a [(f64, String)],
    pub log_clock: &'a LogClock,
    pub units: &'a Units,
    /// Symbol of the unit of its axis.
    pub unit: &'a str,
}

impl Plot<'_> {
    /// Lines of at most `width` columns; none where there is nothing to draw.
    pub fn lines(&self, width: usize) -> Vec<String> {
        let Some((from, to)) = self.series.span() else { return Vec::new() };
        let Kind::Measured(scale) = &self.series.kind else { return Vec::new() };
        let columns = width.saturating_sub(MARGIN + 1).max(20);
        let length = if to > from { to - from } else { 1.0 };
        let place = |at: f64| (((at - from) / length) * (columns - 1) as f64).round() as usize;
        let mut spread: Vec<Option<(f64, f64)>> = vec![None; columns];
        // A held reading stands in every column that it lasted through.
        let mut last: Option<(usize, f64)> = None;
        for (at, value) in self.series.within((from, to)) {
            let column = place(at).min(columns - 1);
            if let Some((before, same)) = last
                && same == value
            {
                (before..column).for_each(|between| widen(&mut spread[between], value));
            }
            widen(&mut spread[column], value);
            last = Some((column, value));
        }
        let ends = |low: f64, high: f64, value: f64| (low.min(value), high.max(value));
        let (mut low, mut high) = spread
            .iter()
            .flatten()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (a, b)| (low.min(*a), high.max(*b)));
        if let Some((start, end)) = self.window {
            (low, high) = ends(low, high, start.si);
            (low, high) = ends(low, high, end.si);
        }
        if high - low < 1e-9 {
            (low, high) = (low - 1.0, high + 1.0);
        }
        let row = |value: f64| ((high - value) / (high - low) * (HEIGHT - 1) as f64).round() as usize;
        let mut cells = vec![vec![' '; columns]; HEIGHT];
        let window = self.window.map(|(start, end)| (row(end.si).min(HEIGHT - 1), row(start.si).min(HEIGHT - 1)));
        if let Some((top, bottom)) = window {
            for line in [top, bottom] {
                cells[line].iter_mut().step_by(2).for_each(|cell| *cell = '-');
            }
        }
        let mut marks = vec![' '; columns];
        let mut key = Vec::new();
        for (number, (at, words)) in self.events.iter().enumerate() {
            if *at < from || *at > to {
                key.push(format!("{} {words}, outside the log", self.log_clock.words(*at)));
                continue;
            }
            let column = place(*at).min(columns - 1);
            cells.iter_mut().for_each(|line| line[column] = ':');
            let letter = char::from(b'A' + (number % 26) as u8);
            marks[column] = letter;
            key.push(format!("{letter}  {} {words}", self.log_clock.words(*at)));
        }
        for (column, spread) in spread.iter().enumerate() {
            if let Some((low, high)) = spread {
                (row(*high)..=row(*low).min(HEIGHT - 1)).for_each(|line| cells[line][column] = '*');
            }
        }
        let label = |value: f64| {
            let number = self.units.convert(&scale.quantity(value), self.unit).unwrap_or(value);
            format!("{number:.1}")
        };
        let mut lines =
            vec![format!("{:>width$} {}", self.unit, self.series.name.replace('_', " "), width = MARGIN - 2)];
        for (line, cells) in cells.iter().enumerate() {
            let at = high - (high - low) * line as f64 / (HEIGHT - 1) as f64;
            let words = match (window, self.window) {
                (Some((top, _)), Some((_, end))) if top == line => label(end.si),
                (Some((_, bottom)), Some((start, _))) if bottom == line => label(start.si),
                _ if line == 0 || line == HEIGHT - 1 => label(at),
                _ => String::new(),
            };
            let text: String = cells.iter().collect();
            lines.push(format!("{words:>width$} |{text}", width = MARGIN - 2).trim_end().to_owned());
        }
        lines.push(format!("{:>width$} +{}", "", "-".repeat(columns), width = MARGIN - 2));
        if !key.is_empty() {
            let marks: String = marks.iter().collect();
            lines.push(format!("{:width$}{marks}", "", width = MARGIN).trim_end().to_owned());
        }
        let (start, end) = (self.log_clock.short(from), self.log_clock.short(to));
        let between = columns.saturating_sub(start.len() + end.len());
        lines.push(format!("{:width$}{start}{}{end}", "", " ".repeat(between), width = MARGIN));
        lines.extend(key.into_iter().map(|line| format!("{:width$}{line}", "", width = MARGIN)));
        lines
    }
}

fn widen(cell: &mut Option<(f64, f64)>, value: f64) {
    let (low, high) = cell.unwrap_or((value, value));
    *cell = Some((low.min(value), high.max(value)));
}
