//! The end of a run in a few lines.

use indexmap::IndexMap;

use super::{FIRST, RecordView, Status};
use crate::columns::spread;
use crate::job::Verdict;
use crate::render::lines::wrapped;

/// Two lines that can be read aloud: how it ended, and how far that is shown.
pub(super) fn outcome(view: &RecordView) -> [String; 2] {
    let who = match view.doers.as_slice() {
        [] => "nobody".to_owned(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    };
    let when = view.closed.clone().unwrap_or_default();
    let first = match view.status {
        Status::Finished => format!("Finished {when}, done by {who}."),
        Status::Abandoned => format!("Abandoned {when}, in the hands of {who}. The work is not done."),
        Status::Paused => format!("Paused, in the hands of {who}. The work is not done."),
        Status::Stopped => format!("Stopped, in the hands of {who}. The work is not done."),
        Status::UnderWay => format!("Under way, in the hands of {who}. The work is not done."),
    };
    let counting: Vec<_> = view.required.iter().filter(|required| !required.superseded).collect();
    let of =
        |verdict: Verdict| counting.iter().filter(|required| required.verdict == verdict && !required.accepted).count();
    let accepted = counting.iter().filter(|required| required.accepted).count();
    let mut second = format!("{} of {} conditions met", of(Verdict::Met), counting.len());
    for (count, words) in [
        (of(Verdict::NotMet), "not met"),
        (of(Verdict::NotShown), "not shown"),
        (accepted, "accepted with a reason"),
        (view.skipped.len(), "steps left out with a reason"),
        (view.corrections.len(), "corrections"),
    ] {
        if count > 0 {
            second.push_str(&format!(", {count} {words}"));
        }
    }
    second.push('.');
    [first, second]
}

/// The record in a screenful: outcome, what is open, the numbers that were computed, how to know it again.
pub fn summary(view: &RecordView, width: usize, _colour: bool) -> String {
    let mut out = String::new();
    let banner = if view.invented { "INVENTED DATA" } else { "" };
    out.push_str(&spread(&format!("RECORD {}", view.job), banner, width));
    out.push('\n');
    let variant = view.variant.as_ref().map(|variant| format!(", {variant}")).unwrap_or_default();
    out.push_str(&wrapped(&format!("{}{variant}: {}", view.family, view.procedure), width, ""));
    for line in &view.outcome {
        out.push_str(&wrapped(line, width, ""));
    }
    for open in &view.open {
        out.push_str(&wrapped(&format!("open: {open}"), width, "      "));
    }
    let latest = latest(view);
    if !latest.is_empty() {
        out.push('\n');
    }
    for line in latest {
        out.push_str(&wrapped(&line, width, "    "));
    }
    if let Some(seal) = &view.seal {
        out.push_str(&format!("\nseal {seal}\n"));
    }
    out.push_str(&format!("plan {}\n{FIRST}\n", view.plan.hash));
    out
}

/// What was computed, the last word for each name.
fn latest(view: &RecordView) -> Vec<String> {
    let mut lines: IndexMap<&str, String> = IndexMap::new();
    for computed in &view.computed {
        let shown: Vec<String> = computed
            .values
            .iter()
            .filter(|fact| !fact.value.is_unknown() && !matches!(fact.value, crate::value::Value::List(_)))
            .map(|fact| match computed.values.len() {
                1 => fact.shown.clone(),
                _ => format!("{} {}", fact.path.replace('_', " "), fact.shown),
            })
            .collect();
        let text =
            if shown.is_empty() { format!("not shown ({})", computed.missing.join(", ")) } else { shown.join(", ") };
        lines.insert(&computed.name, format!("{}: {text}", computed.name.replace('_', " ")));
    }
    lines.into_values().collect()
}
