//! Tables: rows by their first cell.

use super::value::same;
use super::{Found, Way};
use standpipe_diagnostic::source::Place;
use standpipe_library::Document;

/// The cells of a line, without what quoting may hide: what is only quoted otherwise is told, and no harm done.
fn rows(document: &Document) -> Vec<(Vec<&str>, Place)> {
    let (mut rows, mut start) = (Vec::new(), 0);
    for line in document.source.text.split_inclusive('\n') {
        let text = line.trim_end();
        if !text.is_empty() && !text.starts_with('#') {
            let place = Place::new(&document.source, start..start + text.len());
            rows.push((text.split(',').map(str::trim).collect(), place));
        }
        start += line.len();
    }
    rows
}

impl Found<'_> {
    pub(super) fn table(&mut self, before: &Document, after: &Document) {
        let (was, is) = (rows(before), rows(after));
        let (Some((heading, top)), Some((other, now))) = (was.first(), is.first()) else { return };
        if heading != other {
            let what = format!("the columns changed: {} -> {}", heading.join(", "), other.join(", "));
            return self.add(Way::Open, what, Some(top), Some(now));
        }
        for (cells, place) in &was[1..] {
            let Some((others, now)) = is[1..].iter().find(|(others, _)| others[0] == cells[0]) else {
                self.add(Way::Open, format!("the row `{}` is gone", cells[0]), Some(place), None);
                continue;
            };
            for (column, (cell, other)) in cells.iter().zip(others).enumerate() {
                if !same(cell, other, self.units) {
                    let name = heading.get(column).copied().unwrap_or("source");
                    let what = format!("`{name}` of the row `{}` changed: {cell} -> {other}", cells[0]);
                    self.add(Way::Open, what, Some(place), Some(now));
                }
            }
        }
        for (cells, place) in
            is[1..].iter().filter(|(cells, _)| !was[1..].iter().any(|(other, _)| other[0] == cells[0]))
        {
            self.add(Way::Open, format!("the row `{}` is new", cells[0]), None, Some(place));
        }
        let notes = |document: &Document| -> Vec<String> {
            document.source.text.lines().filter(|line| line.starts_with('#')).map(str::to_owned).collect()
        };
        if notes(before) != notes(after) {
            self.add(Way::Words, "what is said above the rows changed", Some(&before.place()), Some(&after.place()));
        }
    }
}
