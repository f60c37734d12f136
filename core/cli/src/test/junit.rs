//! The report that build servers read. The format has no standard; this is the part that all of them understand.

use std::fmt::Write;

use super::Results;
use standpipe_check::case::Report;
use standpipe_diagnostic::short;
use standpipe_report::xml::escaped;

pub fn text(results: &Results) -> String {
    let mut plugins: Vec<&str> = results.reports.iter().map(|report| report.plugin.as_str()).collect();
    plugins.sort_unstable();
    plugins.dedup();
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let failures = results.reports.iter().filter(|report| !report.holds()).count();
    // Writing into a text can't fail.
    let _ =
        writeln!(out, "<testsuites name=\"standpipe\" tests=\"{}\" failures=\"{failures}\">", results.reports.len());
    for plugin in plugins {
        let own: Vec<&Report> = results.reports.iter().filter(|report| report.plugin == plugin).collect();
        let failures = own.iter().filter(|report| !report.holds()).count();
        let _ =
            writeln!(out, "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{failures}\">", escaped(plugin), own.len());
        for report in own {
            one(report, &mut out);
        }
        out.push_str("  </testsuite>\n");
    }
    out.push_str("</testsuites>\n");
    out
}

fn one(report: &Report, out: &mut String) {
    let head = format!(
        "    <testcase name=\"{}\" classname=\"{}.{}\"",
        escaped(&report.case),
        escaped(&report.plugin),
        escaped(&report.of)
    );
    if report.holds() {
        let _ = writeln!(out, "{head}/>");
        return;
    }
    let mut text = String::new();
    for line in report.lines.iter().filter(|line| !line.holds) {
        let _ = write!(text, "{}: {}: expected {}, found {}", line.place, line.what, line.expected, line.found);
        if let Some(off) = &line.difference {
            let _ = write!(text, ", off by {off}");
        }
        if let Some(wide) = &line.tolerance {
            let _ = write!(text, ", allowed {wide}");
        }
        text.push('\n');
    }
    text.push_str(&short(&report.problems));
    let first = text.lines().next().unwrap_or_default();
    let _ = writeln!(
        out,
        "{head}>\n      <failure message=\"{}\">{}</failure>\n    </testcase>",
        escaped(first),
        escaped(&text)
    );
}
