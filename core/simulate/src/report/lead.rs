//! What matters most, in a line or two.

use super::figures::{figure, per_thousand, thousands};
use super::{Limit, Told};
use crate::count::interval;

/// 95 %, unless a look has less.
const ALPHA: f64 = 0.05;

/// How many jobs claim that all is shown and are harmed, and whether that is few enough, where that was asked.
pub fn lead(told: &Told<'_>) -> Vec<String> {
    let tally = told.tally;
    let harm = told.limit.as_ref().and_then(|limit| limit.harm);
    let count = tally.shown_and_harmed(harm);
    let alpha = told.limit.as_ref().map_or(ALPHA, |limit| limit.alpha);
    let found = interval(count, tally.jobs, alpha);
    let mut lines = vec![format!(
        "Claimed shown, and harmed: {count} of {} jobs, {}",
        thousands(tally.jobs),
        per_thousand(count, tally.jobs, found)
    )];
    if let Some(Limit { harm, share, alpha }) = &told.limit {
        let of = harm.and_then(|harm| told.model.harms.get_index(harm)).map_or("any harm", |(id, _)| id);
        let word = match (found.high <= *share, found.low > *share) {
            (true, _) => "SHOWN",
            (_, true) => "NOT MET",
            _ => "NOT SHOWN",
        };
        lines.push(format!(
            "At most {} per 1,000 ({of}): {word}, by the upper end at {:.2} %",
            figure(share * 1000.0),
            100.0 * (1.0 - alpha)
        ));
    }
    lines
}
