//! The tag that is printed when a job is paused and hung on the work.

use super::shown::{banner, minute, person};
use standpipe_diagnostic::columns::{pad, width, wrap};
use standpipe_job::{Machine, State};

/// Fits a strip of paper, and a hand.
const WIDEST: usize = 40;

/// The tag of the last pause: its lines, then which job and on what, when, and by whom.
pub fn of(machine: &Machine, state: &State) -> String {
    let plan = &machine.plan;
    let mut lines = state.tag.clone();
    lines.push(String::new());
    lines.push(format!("Job {}", plan.job.id));
    lines.push(plan.subject(&state.supplied));
    if let Some(at) = state.at {
        let by = state.actor.as_deref().map(|id| person(plan, id)).unwrap_or_default();
        lines.push(format!("Paused {}, {by}", minute(at)));
    }
    let banner = banner(plan.simulated().is_some(), plan.invented);
    if !banner.is_empty() {
        lines.push(banner.to_owned());
    }
    tag(&lines)
}

/// A box around lines of text, at most 40 columns wide. The first line is the warning: it stands by itself.
pub fn tag(lines: &[String]) -> String {
    let room = WIDEST - 4;
    let mut wrapped: Vec<String> = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        let own = wrap(line, room);
        // An empty line is a gap.
        wrapped.extend(if own.is_empty() && index > 0 { vec![String::new()] } else { own });
    }
    let inner = wrapped.iter().map(|line| width(line)).max().unwrap_or(0).max(20);
    let rule = format!("+{}+\n", "-".repeat(inner + 2));
    let mut text = rule.clone();
    for line in &wrapped {
        text.push_str(&format!("| {} |\n", pad(line, inner)));
    }
    text.push_str(&rule);
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_is_a_closed_box_and_never_wider_than_forty_columns() {
        let lines = [
            "EMPTY - DO NOT START".to_owned(),
            "AB 1: two screws are left at opposite ends, the rest lies in the tray".to_owned(),
            String::new(),
            "Key: hook. Ask Ann.".to_owned(),
        ];
        assert_eq!(
            tag(&lines),
            "\
+-------------------------------------+
| EMPTY - DO NOT START                |
| AB 1: two screws are left at        |
| opposite ends, the rest lies in the |
| tray                                |
|                                     |
| Key: hook. Ask Ann.                 |
+-------------------------------------+
"
        );
        assert!(tag(&["x".repeat(200)]).lines().all(|line| width(line) <= WIDEST));
        assert!(tag(&[]).lines().count() == 2);
    }
}
