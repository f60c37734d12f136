//! Inputs from pages: which device each came from, and whether that shows who gave it.

use indexmap::IndexMap;

use super::point::Point;
use standpipe_job::journal::Contents;
use standpipe_job::replay::{batches, is_recovery};
use standpipe_job::{Event, Origin, Record, Via};

fn of_page(first: &Record) -> bool {
    first.origin == Origin::Page || matches!(first.event, Event::Entered { .. })
}

/// None where nothing came from a page. It says who was at work, and nothing against the record: at a terminal a name is
/// only said as well.
pub(super) fn point(contents: &Contents, file: &str) -> Option<Point> {
    let via = |seq: u64| contents.vias.iter().find(|(_, first)| *first == seq).map(|(via, _)| via);
    let mut point = Point::new("devices", file);
    let mut said: IndexMap<(&str, &str), (u64, u64)> = IndexMap::new();
    for batch in batches(&contents.records, &contents.ends).into_iter().filter(|batch| !is_recovery(batch)) {
        let first = &batch[0];
        match (first.origin, via(first.seq)) {
            // An entry that took the reading of a reader was asked for at a page all the same.
            (Origin::Page | Origin::Log, Some(Via { device, own, .. })) if of_page(first) => {
                point.looked_at += 1;
                if !own {
                    said.entry((device, &first.by)).or_insert((first.seq, 0)).1 += 1;
                }
            }
            (Origin::Page, None) => point.fails(first.seq, "it came from a page, and no device is named"),
            (_, Some(via)) => {
                point.fails(first.seq, format!("it came from no page, and names the device {}", via.device))
            }
            (_, None) => {}
        }
    }
    for ((device, by), (first, count)) in said {
        let inputs = if count == 1 { "1 input".to_owned() } else { format!("{count} inputs") };
        let message = format!("{inputs} of {by} came from {device}, which several use: the name was only said");
        point.unshown(first, message);
    }
    let is_sound = point.verdict != super::Verdict::DoesNotHold;
    point.of_work = is_sound;
    (point.looked_at > 0 || !is_sound).then_some(point)
}
