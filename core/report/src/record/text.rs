//! The record as text.

use super::basis::{Computed, Read, Required};
use super::mark_text::mark_lines;
use super::{RecordView, step_text};
use crate::block;
use crate::picture::{Drawn, letter};
use crate::shown::{banner, changed, clock, headline, page, painted, section, words};
use standpipe_diagnostic::columns::{hang, pad, width as columns, wrap};

const WIDEST_NAME: usize = 34;

pub fn text(record: &RecordView, width: usize, colour: bool) -> String {
    let mut out = head(record, width);
    if !record.left_open.is_empty() {
        section(&mut out, "Left open");
        out.extend(record.left_open.iter().flat_map(|open| hang("- ", open, width)));
    }
    block::lines(&record.blocks, &mut out, width);
    required(&record.required, &mut out, width);
    // What was seen and said stands with the steps.
    read("Measured", &record.measured, &mut out, width);
    computed(&record.computed, &mut out, width);
    if !record.assumed.is_empty() {
        section(&mut out, "Assumed: told or taken, not measured");
        let lines =
            record.assumed.iter().map(|it| (it.named.name.as_str(), format!("{} ({})", it.named.shown, it.why)));
        columns_of(lines.collect(), &mut out, width);
    }
    changed(&record.changed, &mut out, width);
    step_text::steps(record, &mut out, width);
    marks(record, &mut out, width);
    logged(record, &mut out, width);
    made_with(record, &mut out, width);
    painted(&page(&out), colour)
}

/// What it is, and how it came out.
pub(super) fn head(record: &RecordView, width: usize) -> Vec<String> {
    let mut out = vec![headline(
        &format!("RECORD OF JOB {}", record.job),
        banner(record.simulated.is_some(), record.invented),
        width,
    )];
    let variant = match &record.variant {
        Some(variant) => format!(" ({variant})"),
        None if record.has_variants => " (variant not settled)".to_owned(),
        None => String::new(),
    };
    out.extend(wrap(&format!("{}{variant}: {}", record.family.title, record.procedure.title), width));
    out.extend(wrap(&record.subject, width));
    if let Some(simulated) = &record.simulated {
        out.extend(wrap(&format!("SIMULATED, nobody did any of it: {}.", simulated.words()), width));
    }
    out.push(String::new());
    out.extend(record.checked.iter().flat_map(|it| it.lines()).flat_map(|line| wrap(&line, width)));
    out.extend(record.answers().flat_map(|answer| wrap(&answer.line(), width)));
    out.extend(record.outcome.lines.iter().flat_map(|line| wrap(line, width)));
    out.extend(wrap(record.notice, width));
    if record.headless {
        out.extend(wrap("Entered from an answers file: its times are those of the file.", width));
    }
    out
}

/// Names in a column, wrapped texts beside them.
fn columns_of(lines: Vec<(&str, String)>, out: &mut Vec<String>, width: usize) {
    let widest = lines.iter().map(|(name, _)| columns(&words(name))).max().unwrap_or(0).min(WIDEST_NAME);
    let mut last = "";
    for (name, text) in lines {
        let label = if name == last { String::new() } else { words(name) };
        out.extend(hang(&format!("  {}  ", pad(&label, widest)), &text, width));
        last = name;
    }
}

fn required(required: &[Required], out: &mut Vec<String>, width: usize) {
    if required.is_empty() {
        return;
    }
    section(out, "Required, by the data of this unit");
    // What comes from one source is said once, below.
    let mut sources: Vec<&str> = required.iter().filter_map(|it| it.from.as_deref()).collect();
    sources.sort_unstable();
    sources.dedup();
    let one = sources.len() == 1;
    let lines = required.iter().map(|it| {
        let from = match (&it.from, it.supplied) {
            (_, true) => ", SUPPLIED DURING THE JOB".to_owned(),
            (Some(from), _) if !one => format!(" ({from})"),
            (None, _) => ", WITHOUT A SOURCE".to_owned(),
            _ => String::new(),
        };
        (it.named.name.as_str(), format!("{}{from}", it.named.shown))
    });
    columns_of(lines.collect(), out, width);
    if one {
        out.extend(hang("  from: ", sources[0], width));
    }
}

fn read(name: &str, read: &[Read], out: &mut Vec<String>, width: usize) {
    if read.is_empty() {
        return;
    }
    section(out, name);
    // How long something was held stands with its step.
    let lines = read.iter().filter(|it| it.named.name != "held").map(|it| {
        let with = it.with.as_ref().map(|with| format!(", {with}")).unwrap_or_default();
        let corrected = if it.corrected { ", corrected" } else { "" };
        let ended = if it.ended { ", ended later" } else { "" };
        let item = if it.address.item.is_empty() { String::new() } else { format!(" at {}", it.address.item) };
        let text = format!("{}{item}, {} {}{with}{corrected}{ended}", it.named.shown, clock(it.at), it.by);
        (it.named.name.as_str(), text)
    });
    let mut lines: Vec<_> = lines.collect();
    // Values of one name stand together, in the order in which they came.
    let order: Vec<&str> = lines.iter().map(|(name, _)| *name).collect();
    lines.sort_by_key(|(name, _)| order.iter().position(|other| other == name));
    columns_of(lines, out, width);
}

fn computed(computed: &[Computed], out: &mut Vec<String>, width: usize) {
    if computed.is_empty() {
        return;
    }
    section(out, "Computed");
    let mut lines = Vec::new();
    for it in computed {
        let by = it.sheet.as_ref().map(|sheet| format!(" ({sheet})")).unwrap_or_default();
        let again = if it.again { ", again after a correction" } else { "" };
        if !it.missing.is_empty() {
            lines.push((it.name.as_str(), format!("NOT SHOWN: {}{by}", it.missing.join(", "))));
            continue;
        }
        for named in &it.results {
            lines.push((named.name.as_str(), format!("{}{by}{again}", named.shown)));
        }
        lines.extend(it.warnings.iter().map(|warning| (it.name.as_str(), format!("warning: {warning}"))));
    }
    columns_of(lines, out, width);
}

fn marks(record: &RecordView, out: &mut Vec<String>, width: usize) {
    for (name, lines) in mark_lines(record) {
        if !lines.is_empty() {
            section(out, name);
            out.extend(lines.iter().flat_map(|line| hang("- ", line, width)));
        }
    }
}

/// What logs show beside the readings that were taken from them.
fn logged(record: &RecordView, out: &mut Vec<String>, width: usize) {
    let traces = record.pictures.iter().filter_map(|picture| match &picture.drawn {
        Drawn::Course(course) if !course.traces.is_empty() => Some((course, &course.traces)),
        _ => None,
    });
    for (number, (course, traces)) in traces.enumerate() {
        if number == 0 {
            section(out, "What was logged");
        }
        out.extend(traces.iter().flat_map(|trace| hang("- ", &trace.says.join(" "), width)));
        let events = course.events.iter().enumerate();
        let events = events.map(|(at, event)| format!("{} {} {}", letter(at), clock(event.at), event.title));
        let events: Vec<String> = events.collect();
        if !events.is_empty() && traces.iter().any(|trace| !trace.at_events.is_empty()) {
            out.extend(hang("  ", &format!("({})", events.join("; ")), width));
        }
    }
}

fn made_with(record: &RecordView, out: &mut Vec<String>, width: usize) {
    section(out, "Made with");
    let made = &record.made_with;
    let mut lines = vec![("plan", made.plan.clone())];
    lines.extend(made.seal.as_ref().map(|seal| ("seal", seal.clone())));
    lines.extend(made.book.as_ref().map(|book| ("book", format!("line {}, {}", book.line, book.hash))));
    let tool = made.tool.as_ref().map(|tool| format!("standpipe {tool}")).unwrap_or_default();
    let interpreter = made.interpreter.as_deref().unwrap_or_default();
    lines.push(("tool", format!("{tool}, {interpreter}, {} events", made.events)));
    columns_of(lines, out, width);
}
