//! The end of a run on one screen.

use super::RecordView;
use super::text::head;
use crate::columns::{fit, hang};
use crate::render::shown::{Named, page, painted, words};

const MOST_LINES: usize = 25;

/// How it came out, what is open, and the values that count, in at most 25 lines.
pub fn summary(record: &RecordView, width: usize, colour: bool) -> String {
    let mut out = head(record, width);
    let seal = record.made_with.seal.as_ref();
    let foot = seal.map(|seal| fit(&format!("Seal {seal}"), width));
    let room = |out: &[String]| MOST_LINES.saturating_sub(out.len() + foot.iter().count());
    if !record.left_open.is_empty() {
        out.push(String::new());
        out.push("LEFT OPEN".to_owned());
        // Half of what is left goes to values.
        let most = room(&out).div_ceil(2).max(1);
        some(&record.left_open, most, width, &mut out);
    }
    let values = values(record);
    if !values.is_empty() && room(&out) > 3 {
        out.push(String::new());
        out.push("COMPUTED AND MEASURED".to_owned());
        let most = room(&out);
        some(&values, most, width, &mut out);
    }
    out.extend(foot);
    painted(&page(&out), colour)
}

/// One line each, as many as there is room for, and how many more there are.
fn some(texts: &[String], most: usize, width: usize, out: &mut Vec<String>) {
    let shown = if texts.len() <= most { texts.len() } else { most.saturating_sub(1) };
    out.extend(texts[..shown].iter().map(|text| fit(&format!("- {text}"), width)));
    if shown < texts.len() {
        out.extend(hang("- ", &format!("and {} more, see `standpipe report`", texts.len() - shown), width));
    }
}

/// Results first, the latest of each name; then the last measurement of each name.
fn values(record: &RecordView) -> Vec<String> {
    let mut latest: indexmap::IndexMap<&str, String> = indexmap::IndexMap::new();
    for computed in &record.computed {
        if computed.missing.is_empty() {
            for named in &computed.results {
                latest.insert(&named.name, Named::words(named));
            }
        } else {
            latest.insert(&computed.name, format!("{} NOT SHOWN", words(&computed.name)));
        }
    }
    // How long something was held tells nothing here.
    for read in record.measured.iter().filter(|read| read.named.name != "held") {
        latest.insert(&read.named.name, read.named.words());
    }
    latest.into_values().collect()
}
