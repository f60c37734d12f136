//! A row for each point of each journal; for one that does not hold, a row for each thing that was found.

use super::{At, Audited, told};
use crate::sheet::{csv, text};

const HEADING: [&str; 10] =
    ["job", "subject", "state", "last_entry", "point", "verdict", "message", "file", "line", "journal"];

pub fn table(audited: &[Audited]) -> String {
    let mut rows = vec![HEADING.map(str::to_owned).to_vec()];
    for journal in audited {
        for point in &journal.points {
            if point.findings.is_empty() {
                rows.push(row(journal, &point.point, point.verdict.words(), "", None));
            }
            for finding in &point.findings {
                let (verdict, place) = (finding.verdict.words(), Some(&finding.place));
                rows.push(row(journal, &point.point, verdict, &finding.message, place));
            }
            if point.more > 0 {
                let message = format!("and {} more of this", point.more);
                rows.push(row(journal, &point.point, point.verdict.words(), &message, None));
            }
        }
        for missed in journal.recheck.iter().flat_map(|recheck| &recheck.missed) {
            rows.push(row(journal, "newer data", missed.verdict.words(), &told(missed), Some(&missed.place)));
        }
        for reason in journal.recheck.iter().flat_map(|recheck| &recheck.not_judged) {
            rows.push(row(journal, "newer data", "not judged", reason, None));
        }
    }
    csv(&rows)
}

fn row(journal: &Audited, point: &str, verdict: &str, message: &str, place: Option<&At>) -> Vec<String> {
    vec![
        text(&journal.job),
        text(&journal.subject),
        journal.state.to_owned(),
        journal.at.map(|at| at.to_string()).unwrap_or_default(),
        text(point),
        verdict.to_owned(),
        text(message),
        place.map(|place| place.file.clone()).unwrap_or_default(),
        place.and_then(|place| place.line).map(|line| line.to_string()).unwrap_or_default(),
        journal.folder.clone(),
    ]
}
