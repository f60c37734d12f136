//! A calculation on paper.

use super::{Desk, Done, shown};
use standpipe_diagnostic::columns::{hang, pad, width};
use standpipe_quantity::value::Value;
use standpipe_sheet::Sheet;
use standpipe_sheet::uncertainty::Propagated;

/// Columns in which names stand; longer ones push their value to the right.
const NAMES: usize = 18;

pub fn text(done: &Done, desk: &Desk, columns: usize) -> String {
    let (units, style) = (&*desk.units, &desk.shop.style);
    let sheet = &desk.sheet;
    let mut lines = vec![sheet.title.clone()];
    if sheet.invented {
        lines.push("INVENTED DATA".to_owned());
    }
    if !done.given.is_empty() {
        lines.extend([String::new(), "Given".to_owned()]);
        for name in sheet.inputs.keys() {
            let Some(value) = done.given.get(name) else { continue };
            let default = if done.defaults.contains(name) { "  by default" } else { "" };
            let texts = each(value).into_iter().map(|one| {
                let spread = done.spreads.get(name);
                format!("{}{default}", shown::uncertain_input(one, spread, units, style))
            });
            entries(&mut lines, name, texts, columns);
        }
    }
    if done.explained && done.steps.is_empty() {
        lines.extend([String::new(), "The function of this sheet names no steps in between.".to_owned()]);
    }
    if !done.steps.is_empty() {
        lines.extend([String::new(), "Step by step".to_owned()]);
        for (name, value) in &done.steps {
            entries(&mut lines, name, each(value).into_iter().map(|one| shown::step(one, units, style)), columns);
        }
    }
    if let Some(outcome) = &done.outcome {
        lines.extend([String::new(), "Result".to_owned()]);
        for (name, value) in &outcome.outputs {
            let output = &sheet.outputs[name];
            if let Some(text) = done.uncertain.as_ref().and_then(|found| shown::uncertain(name, value, found, desk)) {
                entry(&mut lines, name, &text, columns);
                continue;
            }
            let texts = each(value).into_iter().map(|one| shown::output(one, output, units, style));
            entries(&mut lines, name, texts, columns);
        }
        if let Some(propagated) = &done.uncertain {
            uncertain(&mut lines, done, propagated, desk, columns);
        }
        for warning in &outcome.warnings {
            lines.extend(hang("  warning: ", warning, columns));
        }
    }
    lines.push(String::new());
    about(&mut lines, sheet, columns);
    lines.join("\n") + "\n"
}

/// How the uncertainties were found, and what makes most of them.
fn uncertain(lines: &mut Vec<String>, done: &Done, found: &Propagated, desk: &Desk, columns: usize) {
    let mut note = format!(
        "  u: standard uncertainty from {} trials, seed {}; inputs taken as independent of one another",
        found.trials, done.seed
    );
    if !found.settled {
        note.push_str("; its second digit is not settled yet");
    }
    lines.extend(hang("  ", note.trim_start(), columns));
    for name in desk.sheet.outputs.keys() {
        if let Some(text) = shown::curved(name, done, found, desk) {
            lines.extend(hang("  ", &text, columns));
        }
        if done.explained
            && let Some(text) = shown::budget(name, found, desk)
        {
            lines.extend(hang("  ", &text, columns));
        }
    }
    if let (count, Some(first)) = &found.warned
        && done.outcome.as_ref().is_some_and(|outcome| outcome.warnings.is_empty())
    {
        lines.extend(hang("  warning: ", &format!("in {count} of {} trials: {first}", found.trials), columns));
    }
}

/// Records of a list get a line each, everything else stands in one.
fn each(value: &Value) -> Vec<&Value> {
    match value {
        Value::List(items) if items.iter().any(|item| matches!(item, Value::Record(_))) => items.iter().collect(),
        one => vec![one],
    }
}

fn entries(lines: &mut Vec<String>, name: &str, texts: impl Iterator<Item = String>, columns: usize) {
    for (index, text) in texts.enumerate() {
        entry(lines, if index == 0 { name } else { "" }, &text, columns);
    }
}

pub fn entry(lines: &mut Vec<String>, name: &str, value: &str, columns: usize) {
    lines.extend(hang(&format!("  {}", pad(name, NAMES.max(width(name) + 2))), value, columns));
}

/// What the calculation rests on.
pub fn about(lines: &mut Vec<String>, sheet: &Sheet, columns: usize) {
    let texts = [("Formula   ", &sheet.formula), ("Holds     ", &sheet.holds)];
    let source = Some(sheet.source.clone());
    for (label, text) in [texts[0], ("Source    ", &source), texts[1]] {
        if let Some(text) = text {
            lines.extend(hang(label, text, columns));
        }
    }
    for caution in &sheet.cautions {
        lines.extend(hang("! ", caution, columns));
    }
}
