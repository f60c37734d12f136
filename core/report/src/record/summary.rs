//! The end of a run on one screen.

use indexmap::IndexMap;

use super::RecordView;
use super::text::head;
use crate::shown::{page, painted, words};
use standpipe_diagnostic::columns::{fit, hang};
use standpipe_quantity::value::Value;

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
        // Half of what is left goes to results.
        let most = room(&out).div_ceil(2).max(1);
        some(&record.left_open, most, width, &mut out);
    }
    let results = results(record);
    if !results.is_empty() && room(&out) > 3 {
        out.push(String::new());
        out.push("COMPUTED".to_owned());
        // What was settled last says most.
        let most = room(&out);
        let from = results.len().saturating_sub(most);
        out.extend(results[from..].iter().map(|text| fit(&format!("- {text}"), width)));
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

/// One line for each name, the last result that it had.
fn results(record: &RecordView) -> Vec<String> {
    let mut latest: IndexMap<&str, String> = IndexMap::new();
    for computed in &record.computed {
        let name = words(&computed.name);
        let prefix = format!("{}.", computed.name);
        let shown: Vec<String> = computed
            .results
            .iter()
            .filter(|named| is_short(&named.value))
            .map(|named| match named.name.strip_prefix(&prefix) {
                Some(output) => format!("{} {}", words(output), named.shown),
                None => named.shown.clone(),
            })
            .collect();
        let shown = if computed.missing.is_empty() { shown.join(", ") } else { "NOT SHOWN".to_owned() };
        latest.insert(&computed.name, format!("{name}: {shown}"));
    }
    latest.into_values().collect()
}

/// Drawings, sentences and lists have no place on one line.
fn is_short(value: &Value) -> bool {
    match value {
        Value::Text(text) => text.chars().count() <= 24,
        Value::List(_) | Value::Record(_) | Value::Unknown => false,
        _ => true,
    }
}
