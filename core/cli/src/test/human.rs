//! How the cases went, for people: those that do not hold in full, the others by their number.

use super::Results;
use crate::args::Test;
use standpipe_check::case::{Line, Report};
use standpipe_diagnostic::columns::{pad, width};
use standpipe_diagnostic::short;
use standpipe_report::count;

const RED: &str = "\u{1b}[1;31m";
const PLAIN: &str = "\u{1b}[0m";

pub fn text(results: &Results, args: &Test, color: bool) -> String {
    let mut out = String::new();
    for report in results.reports.iter().filter(|report| args.verbose || !report.holds()) {
        out.push_str(&one(report, color));
    }
    let failed = results.reports.iter().filter(|report| !report.holds()).count();
    let all = results.reports.len();
    out.push_str(&match failed {
        0 if all == 0 => "no case was run".to_owned(),
        0 if all == 1 => "1 case holds".to_owned(),
        0 => format!("{all} cases hold"),
        1 => format!("1 of {} does not hold", count(all, "case")),
        _ => format!("{failed} of {} do not hold", count(all, "case")),
    });
    if results.left_out > 0 {
        out.push_str(&format!(", {} left out by the filter", results.left_out));
    }
    out.push('\n');
    let parts: Vec<String> =
        results.coverage.0.iter().map(|(what, part)| format!("{} of {} {what}", part.reached, part.all)).collect();
    // With a filter most of it is not tried, and that says nothing.
    if !parts.is_empty() && (args.filter.is_none() || args.coverage) {
        out.push_str(&format!("they reached {}\n", parts.join(", ")));
    }
    if args.coverage {
        for (what, part) in results.coverage.0.iter().filter(|(_, part)| !part.missing.is_empty()) {
            out.push_str(&format!("\n{what}, reached by no case:\n"));
            part.missing.iter().for_each(|name| out.push_str(&format!("  {name}\n")));
        }
    }
    out
}

fn one(report: &Report, color: bool) -> String {
    let (on, off) = if color && !report.holds() { (RED, PLAIN) } else { ("", "") };
    let verdict = if report.holds() { "holds" } else { "does not hold" };
    let mut out = format!(
        "{on}{}/{}{off} {verdict}: {} {}, {}\n",
        report.plugin, report.case, report.kind, report.of, report.place
    );
    let column = |text: &dyn Fn(&Line) -> &str| report.lines.iter().map(|line| width(text(line))).max().unwrap_or(0);
    let (what, expected, found) =
        (column(&|line| &line.what), column(&|line| &line.expected), column(&|line| &line.found));
    for line in &report.lines {
        let mut row = format!(
            "{} {}  expected {}  found {}",
            if line.holds { ' ' } else { '!' },
            pad(&line.what, what),
            pad(&line.expected, expected),
            pad(&line.found, found)
        );
        if let Some(off) = &line.difference {
            row.push_str(&format!("  off by {off}"));
        }
        if let Some(wide) = &line.tolerance {
            row.push_str(&format!("  allowed {wide}"));
        }
        out.push_str(row.trim_end());
        out.push('\n');
    }
    for line in short(&report.problems).lines() {
        out.push_str(&format!("  {line}\n"));
    }
    out.push('\n');
    out
}
