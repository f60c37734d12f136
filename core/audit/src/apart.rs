//! Texts that are kept apart from the journal: are those that are there the ones it was written with, and how many are not?

use std::path::Path;

use super::point::{At, Point, Verdict};
use standpipe_job::journal::{Contents, TEXTS_APART};

/// None where the journal names none. A text that is not there is no fault: whoever keeps the job may leave it out or delete it.
pub(super) fn point(contents: &Contents, folder: &Path) -> Option<Point> {
    let apart = &contents.apart;
    let file = folder.join(TEXTS_APART).display().to_string();
    let mut point = Point::new("texts kept apart", &file);
    point.looked_at = apart.kept + apart.left_out;
    for fault in &apart.faults {
        let place = At { file: file.clone(), line: (fault.line > 0).then_some(fault.line) };
        point.find_in(Verdict::DoesNotHold, place, fault.message.clone());
    }
    if apart.left_out > 0 {
        let message = format!(
            "{} of {} texts are left out: what they said is not shown; everything else was checked without them",
            apart.left_out, point.looked_at
        );
        point.find(Verdict::Holds, None, message);
    }
    (point.looked_at > 0).then_some(point)
}
