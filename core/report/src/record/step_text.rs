//! The steps of a record as text: a line for what went as it should, more where something is to be told.

use jiff::civil::Date;
use serde::Serialize;
use standpipe_job::Moment;

use super::RecordView;
use super::steps::{Entry, StepEvent, StepView, What};
use crate::shown::{Named, clock, count, minute, section, words};
use standpipe_diagnostic::columns::{hang, spread, width as columns, wrap};
use standpipe_job::ending::ended_by;
use standpipe_job::judge::percent;
use standpipe_job::{Verdict, Witness};
use standpipe_quantity::value::Value;

const INDENT: &str = "       ";

pub(super) fn steps(record: &RecordView, out: &mut Vec<String>, width: usize) {
    section(out, "Steps, in the order they were reached");
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
    out.extend(told(step).iter().flat_map(|text| hang(INDENT, text, width)));
}

/// A step as a page tells it: the same words as in the text.
#[derive(Debug, Serialize)]
pub(crate) struct Told<'a> {
    number: String,
    title: &'a str,
    round: String,
    section: &'a str,
    day: String,
    /// A new one begins a new heading.
    part: String,
    status: &'static str,
    verdict: Option<Verdict>,
    accepted: bool,
    when_and_who: String,
    lines: Vec<String>,
}

pub(crate) fn told_of(step: &StepView) -> Told<'_> {
    let day = step.deeds.first().map(|deed| deed.at.date().to_string()).unwrap_or_default();
    Told {
        number: step.number.map(|number| number.to_string()).unwrap_or_default(),
        title: &step.title,
        round: step.address.rounds.iter().map(u32::to_string).collect::<Vec<_>>().join("."),
        section: &step.section,
        part: format!("{} {day}", step.section),
        day,
        status: step.status,
        verdict: step.verdict,
        accepted: step.accepted,
        when_and_who: when_and_who(step),
        lines: told(step),
    }
}

/// What there is to tell below the title.
fn told(step: &StepView) -> Vec<String> {
    let mut told = Vec::new();
    let mut rest = step.deeds.as_slice();
    while let Some((deed, after)) = rest.split_first() {
        let items = rest.iter().take_while(|deed| is_plain_item(deed)).count();
        if items > 1 {
            let (first, last) = (&rest[0], &rest[items - 1]);
            let to = if last.at == first.at { String::new() } else { format!(" to {}", time(step, last.at)) };
            told.push(format!("{} done, {}{to}", count(items, "item"), time(step, first.at)));
            rest = &rest[items..];
            continue;
        }
        told.extend(deed_lines(step, deed, after));
        rest = after;
    }
    told
}

/// The time of day, with the date where that is not the day under which the step stands.
fn time(step: &StepView, at: Moment) -> String {
    match step.deeds.first() {
        Some(first) if first.at.date() != at.date() => minute(at),
        _ => clock(at),
    }
}

/// Rows of a reader are evidence too, and no photo.
fn is_picture(name: &str) -> bool {
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_lowercase());
    !matches!(ending.as_deref(), Some("csv" | "txt" | "log" | "tsv"))
}

/// A plain confirmation of one item: many of them make one line.
fn is_plain_item(deed: &StepEvent) -> bool {
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
    last.map(|deed| format!("{} {}", time(step, deed.at), deed.by)).unwrap_or_default()
}

fn deed_lines(step: &StepView, deed: &StepEvent, after: &[StepEvent]) -> Vec<String> {
    let at = time(step, deed.at);
    let late = deed.entered_at.map(|entered| format!(" (entered {})", clock(entered))).unwrap_or_default();
    let mut lines = Vec::new();
    match &deed.what {
        What::Entered { item, values, witness, evidence, remarks, counts } => {
            let mut parts: Vec<String> = values.iter().map(entry).collect();
            parts.extend(witness.as_ref().map(|witness| match witness {
                Witness::By(by) => format!("seen by {by}"),
                Witness::Alone => "WITNESS NOT SHOWN: a one-person shop".to_owned(),
            }));
            if !evidence.is_empty() {
                let pictures = evidence.iter().all(|name| is_picture(name));
                parts.push(format!("{} {}", if pictures { "photo" } else { "file" }, evidence.join(", ")));
            }
            parts.extend(remarks.iter().cloned());
            let which = if item.is_empty() { String::new() } else { format!("{item}: ") };
            let again = matches!(after.first(), Some(StepEvent { what: What::Judged { again: true, .. }, .. }));
            if again {
                lines.push(format!("tried {at}: {which}{}{late}", parts.join(", ")));
            } else if !counts {
                lines.push(format!("tried {at}, did not count: {which}{}{late}", parts.join(", ")));
            } else if !parts.is_empty() {
                lines.push(format!("{which}{}{late}", parts.join(", ")));
            } else if !late.is_empty() {
                lines.push(late.trim().to_owned());
            }
        }
        What::Judged { verdict, found, missing, likely, again, instead_of } => {
            let must = step.must.as_deref().unwrap_or_default();
            // A gate need not say again what the line above says.
            let is_news = |named: &&Named| instead_of.is_some() || !is_entered(step, &named.name);
            let found: Vec<Named> = found.iter().filter(is_news).cloned().collect();
            let seen = found_words(&found, missing, *likely);
            if instead_of.is_some() {
                lines.push(format!("judged again {at}: {}; {seen}", verdict.words().to_uppercase()));
            } else if *verdict != Verdict::Met {
                let then = if *again { ", asked again" } else { "" };
                let seen = if seen.is_empty() { String::new() } else { format!("; {seen}") };
                lines.push(format!("{}{then}: must {must}{seen}", verdict.words().to_uppercase()));
            } else if !seen.is_empty() {
                lines.push(format!("met with {seen}"));
            }
        }
        // Without a name it only serves the step itself, such as the order of its items.
        What::Computed { gives: None, .. } => {}
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
        What::Ended { because } => {
            let again = after.iter().any(|deed| matches!(deed.what, What::Entered { .. }));
            lines.push(format!("{at} ended by {}{}", ended_by(because), if again { ", asked again" } else { "" }));
        }
        What::Undone { at: by } => lines.push(format!("{at} undone at \"{by}\", due again")),
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

/// What was typed is told where another unit or another figure is shown.
fn is_told(typed: &str, named: &Named) -> bool {
    let Value::Quantity(quantity) = &named.value else { return matches!(named.value, Value::Range(..)) };
    let figure: String = typed.chars().take_while(|c| !c.is_alphabetic() && !c.is_whitespace() && *c != '°').collect();
    let unit = quantity.written.as_ref().map(|written| &*written.unit).unwrap_or_default();
    !named.shown.starts_with(&format!("{figure} {unit}")) && !named.shown.starts_with(&format!("{figure}{unit}"))
}

fn is_entered(step: &StepView, name: &str) -> bool {
    step.deeds.iter().any(|deed| {
        matches!(&deed.what, What::Entered { values, .. } if values.iter().any(|entry| entry.named.name == name))
    })
}

fn found_words(found: &[Named], missing: &[String], likely: Option<f64>) -> String {
    let mut parts: Vec<String> = found
        .iter()
        .filter(|named| !matches!(named.value, Value::Record(_)))
        .map(|named| format!("{} {}", words(named.name.strip_prefix("spec.").unwrap_or(&named.name)), named.shown))
        .collect();
    if !missing.is_empty() {
        parts.push(format!("not known: {}", missing.join(", ")));
    }
    parts.extend(likely.map(|share| format!("sure to {}", percent(share))));
    parts.join(", ")
}
