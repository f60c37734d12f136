//! Writes that were interrupted: an event claims that bytes were moved aside, and they have to lie there.

use std::path::Path;

use indexmap::IndexSet;

use super::point::Point;
use standpipe_job::journal::moved_aside;
use standpipe_job::{Event, Record};

/// None where no event tells of any.
pub(super) fn point(records: &[Record], folder: &Path, file: &str) -> Option<Point> {
    let mut point = Point::new("interrupted writes", file);
    let mut told = IndexSet::new();
    for record in records {
        let Event::Recovered { bytes, moved_to } = &record.event else { continue };
        point.looked_at += 1;
        let of = format!("{bytes} bytes were moved to `{moved_to}`, it says");
        match moved_aside(folder, moved_to) {
            Err(fault) => point.fails(record.seq, format!("{of}: {fault}")),
            Ok(found) if found != *bytes => point.fails(record.seq, format!("{of}: it has {found}")),
            Ok(_) if !told.insert(moved_to) => point.fails(record.seq, format!("{of}, a second time")),
            Ok(_) => {}
        }
        if !record.by.is_empty() {
            point.fails(record.seq, format!("the journal itself reports torn bytes, and never `{}`", record.by));
        }
    }
    (point.looked_at > 0).then_some(point)
}
