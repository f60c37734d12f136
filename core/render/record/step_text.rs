//! The steps of a record as text: a line for what went as it should, more where something is to be told.

use jiff::civil::Date;

use super::RecordView;
use super::steps::{Deed, Entry, StepView, What};
use crate::columns::{hang, spread, width as columns, wrap};
use crate::job::ending::ended_by;
use crate::job::{Verdict, Witness};
use crate::render::shown::{Named, clock, count, section, words};

const INDENT: &str = "       ";

pub(super) fn steps(record: &RecordView, out: &mut Vec<String>, width: usize) {
    section(out, "Steps, in the order they were come to");
    let (mut day, mut part): (Option<Date>, &str) = (None, "");
    let (needed, idle): (Vec<&StepView>, Vec<&StepView>) =
        record.steps.iter().partition(|step| step.status != "not needed");
    for step in needed {
        let today = step.deeds.first().map(|deed| deed.at.date());
        if today.is_some() && today != day {
            day = today;
            out.extend(today.map(|date| format!("  {date}")));
        }
        if step.section != part {
            part = &step.section;
            out.extend(hang("  ", part, width));
        }
        lines(step, out, width);
    }
    if !idle.is_empty() {
        let names: Vec<String> = idle
            .iter()
            .map(|step| step.number.map_or_else(|| step.address.to_string(), |number| number.to_string()))
            .collect();
        out.extend(hang("  Not needed here: ", &names.join(", "), width));
    }
}

fn lines(step: &StepView, out: &mut Vec<String>, width: usize) {
    let number = step.number.map(|number| number.to_string()).unwrap_or_default();
    let round = match step.address.rounds.as_slice() {
        [] => String::new(),
        rounds if step.number.is_some() => {
            format!(" (round {})", rounds.iter().map(u32::to_string).collect::<Vec<_>>().join("."))
        }
        _ => String::new(),
    };
    let right = [verdict(step), when_and_who(step)].into_iter().filter(|part| !part.is_empty());
    let right = right.collect::<Vec<_>>().join("  ");
    let title = format!("{}{round}", step.title);
    let label = format!("{number:>5}  ");
    if columns(&label) + columns(&title) + columns(&right) + 2 <= width {
        out.push(spread(&format!("{label}{title}"), &right, width));
    } else {
        let titles = wrap(&title, width.saturating_sub(columns(&label)));
        let last = titles.len().saturating_sub(1);
        for (index, title) in titles.iter().enumerate() {
            let label = if index == 0 { label.as_str() } else { INDENT };
            let line = format!("{label}{title}");
            match index == last && columns(&line) + columns(&right) + 2 <= width {
                true => out.push(spread(&line, &right, width)),
                false => {
                    out.push(line);
                    if index == last {
                        out.push(spread("", &right, width));
                    }
                }
            }
        }
    }
    let mut told = Vec::new();
    let items: Vec<&Deed> = step.deeds.iter().filter(|deed| is_plain_item(deed)).collect();
    if let (Some(first), Some(last), true) = (items.first(), items.last(), items.len() > 1) {
        told.push(format!("{} done, {} to {}", count(items.len(), "item"), clock(first.at), clock(last.at)));
    }
    for deed in &step.deeds {
        told.extend(deed_lines(step, deed, items.len() > 1));
    }
    out.extend(told.iter().flat_map(|text| hang(INDENT, text, width)));
}

/// A plain confirmation of one item: many of them make one line.
fn is_plain_item(deed: &Deed) -> bool {
    matches!(&deed.what, What::Entered { item, values, remarks, counts: true, .. }
        if !item.is_empty() && values.iter().all(|entry| entry.named.name == "held") && remarks.is_empty())
}

fn verdict(step: &StepView) -> String {
    match (step.verdict, step.status) {
        (Some(Verdict::Met), _) => "met".to_owned(),
        (Some(verdict), _) if step.accepted => format!("{}, accepted", verdict.words().to_uppercase()),
        (Some(verdict), _) => verdict.words().to_uppercase(),
        (None, "done") => String::new(),
        (None, status) => status.to_uppercase(),
    }
}

fn when_and_who(step: &StepView) -> String {
    let last = step.deeds.iter().rev().find(|deed| matches!(deed.what, What::Entered { .. } | What::Skipped { .. }));
    last.map(|deed| format!("{} {}", clock(deed.at), deed.by)).unwrap_or_default()
}

fn deed_lines(step: &StepView, deed: &Deed, gathered: bool) -> Vec<String> {
    let at = clock(deed.at);
    let late = deed.entered_at.map(|entered| format!(" (entered {})", clock(entered))).unwrap_or_default();
    let mut lines = Vec::new();
    match &deed.what {
        What::Entered { item, values, witness, evidence, remarks, counts } => {
            let mut parts: Vec<String> = values.iter().map(entry).collect();
            parts.extend(witness.as_ref().map(|witness| match witness {
                Witness::By(by) => format!("seen by {by}"),
                Witness::NotShown(why) => format!("WITNESS NOT SHOWN: {why}"),
            }));
            if !evidence.is_empty() {
                parts.push(format!("photo {}", evidence.join(", ")));
            }
            parts.extend(remarks.iter().cloned());
            let which = if item.is_empty() { String::new() } else { format!("{item}: ") };
            if !counts {
                lines.push(format!("tried {at}, did not count: {which}{}{late}", parts.join(", ")));
            } else if !parts.is_empty() && !(gathered && is_plain_item(deed)) {
                lines.push(format!("{which}{}{late}", parts.join(", ")));
            } else if !late.is_empty() {
                lines.push(late.trim().to_owned());
            }
        }
        What::Judged { verdict, found, missing, again, instead_of } => {
            let must = step.must.as_deref().unwrap_or_default();
            let seen = found_words(found, missing);
            if instead_of.is_some() {
                lines.push(format!("judged again {at}: {}; {seen}", verdict.words().to_uppercase()));
            } else if *verdict != Verdict::Met {
                let then = if *again { ", asked again" } else { "" };
                lines.push(format!("{at} {}{then}: must {must}; {seen}", verdict.words().to_uppercase()));
            } else {
                lines.push(format!("met with {seen}"));
            }
        }
        What::Computed { results, missing, warnings, instead_of, sheet, .. } => {
            let values: Vec<String> = results.iter().map(Named::words).collect();
            let by = sheet.as_ref().map(|sheet| format!(" ({sheet})")).unwrap_or_default();
            let again = if instead_of.is_some() { "computed again: " } else { "computed: " };
            match missing.is_empty() {
                true => lines.push(format!("{again}{}{by}", values.join(", "))),
                false => lines.push(format!("NOT SHOWN{by}: {}", missing.join(", "))),
            }
            lines.extend(warnings.iter().map(|warning| format!("warning: {warning}")));
        }
        What::Ended { because } => lines.push(format!("{at} ended by {}, asked again", ended_by(because))),
        What::RoundEnded { because } => lines.push(format!("{at} round over: {because}")),
        What::Skipped { because } => lines.push(format!("left out: {because}")),
        What::Accepted { because } => lines.push(format!("accepted {at} by {}: {because}", deed.by)),
        What::Corrected { values, because } => {
            for entry in values {
                let before = entry.before.as_deref().unwrap_or("nothing");
                let name = words(&entry.named.name);
                lines.push(format!(
                    "corrected {at} by {}: {name} {before} -> {}, because {because}",
                    deed.by, entry.named.shown
                ));
            }
        }
        What::Held { because } => lines.push(format!("{at} held up: {because}")),
    }
    lines
}

/// `water 38.2 °C (typed 38.2, probe)`.
fn entry(entry: &Entry) -> String {
    let mut notes = Vec::new();
    if let Some(typed) = entry.typed.as_ref().filter(|typed| is_told(typed, &entry.named)) {
        notes.push(format!("typed {typed}"));
    }
    notes.extend(entry.with.clone());
    let notes = if notes.is_empty() { String::new() } else { format!(" ({})", notes.join(", ")) };
    format!("{}{notes}", entry.named.words())
}

/// What was typed is told when a number went through a unit or a correction of spelling.
fn is_told(typed: &str, named: &Named) -> bool {
    typed != named.shown && matches!(named.value, crate::value::Value::Quantity(_) | crate::value::Value::Range(..))
}

fn found_words(found: &[Named], missing: &[String]) -> String {
    let mut parts: Vec<String> = found
        .iter()
        .filter(|named| !matches!(named.value, crate::value::Value::Record(_)))
        .map(|named| format!("{} {}", words(named.name.strip_prefix("spec.").unwrap_or(&named.name)), named.shown))
        .collect();
    if !missing.is_empty() {
        parts.push(format!("not known: {}", missing.join(", ")));
    }
    if parts.is_empty() { "nothing looked at".to_owned() } else { parts.join(", ") }
}
