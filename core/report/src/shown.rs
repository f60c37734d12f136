//! Values and texts, as people read them and as programs do.

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use standpipe_diagnostic::columns::{clean, hang, spread};
use standpipe_job::plan::{Overlaid, Plan};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Style, System};

/// A value with a name: in the shop's units, and exact.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Named {
    pub name: String,
    pub shown: String,
    pub value: Value,
}

impl Named {
    pub fn new(plan: &Plan, name: &str, value: &Value) -> Self {
        Self { name: name.to_owned(), shown: show_named(plan, name, value), value: value.clone() }
    }

    /// `name shown`, the name in words.
    pub fn words(&self) -> String {
        format!("{} {}", words(&self.name), self.shown)
    }
}

/// In the shop's units; a person is called by name.
pub fn show(plan: &Plan, value: &Value) -> String {
    match value {
        Value::Text(text) => plan.shop.people.get(text).map_or_else(|| clean(text), |person| clean(&person.name)),
        value => clean(&listed(value, &|value| plan.show(value))),
    }
}

/// The same, where a name says which unit it is shown in.
fn show_named(plan: &Plan, name: &str, value: &Value) -> String {
    match value {
        Value::Number(_) => clean(&plan.show_named(name, value)),
        value => show(plan, value),
    }
}

/// Items that hold commas of their own are told apart by semicolons.
fn listed(value: &Value, show: &dyn Fn(&Value) -> String) -> String {
    match value {
        Value::List(items) => {
            let shown: Vec<String> = items.iter().map(show).collect();
            shown.join(if shown.iter().any(|item| item.contains(',')) { "; " } else { ", " })
        }
        value => show(value),
    }
}

/// In metric and inch units, whatever the shop has chosen: on a card both are wanted.
pub fn show_both(plan: &Plan, value: &Value) -> String {
    let style = Style { system: System::Both, overrides: Default::default(), ..plan.shop.style.clone() };
    clean(&listed(value, &|value| plan.units.show_value(value, &style)))
}

/// The name of a person, or the id where the shop does not know it.
pub fn person(plan: &Plan, id: &str) -> String {
    plan.shop.people.get(id).map_or_else(|| id.to_owned(), |person| person.name.clone())
}

/// Beside a value: the instrument that it was read with; of an end of a scale, that nobody needs to have read it.
pub fn with(plan: &Plan, step: &str, (name, value): (&str, &Value), id: &str) -> Option<String> {
    match plan.scale_end(step, name) {
        None => Some(id.to_owned()),
        // A correction has made it another value, which was read.
        Some(end) => plan.is_end_of(id, end, value).then(|| format!("shop file: {id}")),
    }
}

/// A name of a script or a path in words.
pub fn words(name: &str) -> String {
    name.replace(['_', '-'], " ").replace('.', " ")
}

pub fn minute(at: Moment) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}

pub fn clock(at: Moment) -> String {
    at.strftime("%H:%M").to_string()
}

/// `1 step`, `2 steps`.
pub fn count(number: usize, what: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {what}{plural}")
}

/// `step 3`, `steps 3, 5 to 8`.
pub fn numbers(steps: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for step in steps {
        match runs.last_mut() {
            Some((_, end)) if *end + 1 == *step => *end = *step,
            _ => runs.push((*step, *step)),
        }
    }
    let parts: Vec<String> = runs
        .iter()
        .map(|(start, end)| match end - start {
            0 => start.to_string(),
            1 => format!("{start}, {end}"),
            _ => format!("{start} to {end}"),
        })
        .collect();
    format!("{} {}", if steps.len() == 1 { "step" } else { "steps" }, parts.join(", "))
}

/// Names as in a sentence.
pub fn and(names: &[String]) -> String {
    match names {
        [] => "nobody".to_owned(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// What must not be taken for real work: it stands at the top of everything that is drawn of it.
pub fn banner(simulated: bool, invented: bool) -> &'static str {
    match (simulated, invented) {
        (true, true) => "SIMULATED, INVENTED DATA",
        (true, false) => "SIMULATED",
        (false, true) => "INVENTED DATA",
        (false, false) => "",
    }
}

/// The first line of a page: what it is, and the banner where it applies.
pub fn headline(left: &str, banner: &str, width: usize) -> String {
    spread(left, banner, width)
}

/// The name of a section, with a line so that it is found by eye.
pub fn section(out: &mut Vec<String>, name: &str) {
    out.push(String::new());
    out.push(name.to_uppercase());
}

/// Lines to a text without idle spaces at the ends of lines.
pub fn page(lines: &[String]) -> String {
    let mut text: String = lines.iter().map(|line| format!("{}\n", line.trim_end())).collect();
    while text.contains("\n\n\n") {
        text = text.replace("\n\n\n", "\n\n");
    }
    text
}

/// Headings in bold, the banner turned over; the text stays the same.
pub fn painted(text: &str, colour: bool) -> String {
    if !colour {
        return text.to_owned();
    }
    let mut out = String::new();
    for line in text.lines() {
        let heading = line.starts_with(char::is_alphabetic) && !line.chars().any(char::is_lowercase);
        let banners = [banner(true, true), banner(true, false), banner(false, true)];
        let marked = banners.iter().find_map(|banner| Some((line.strip_suffix(banner)?, banner)));
        let line = match marked {
            Some((rest, banner)) => format!("{rest}\u{1b}[7m{banner}\u{1b}[0m"),
            None if heading => format!("\u{1b}[1m{line}\u{1b}[0m"),
            None => line.to_owned(),
        };
        out.push_str(&line);
        out.push('\n');
    }
    out
}

/// What overlays of the shop have changed, one line each.
pub fn changed(changes: &[Overlaid], out: &mut Vec<String>, width: usize) {
    if changes.is_empty() {
        return;
    }
    section(out, "Changed by the shop's overlays");
    for change in changes {
        out.extend(hang("- ", &format!("{} ({})", change.words(), change.overlay), width));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_and_counts_read_as_sentences() {
        let names = ["Ann".to_owned(), "Bob".to_owned(), "Eve".to_owned()];
        assert_eq!(and(&names), "Ann, Bob and Eve");
        assert_eq!(and(&names[..1]), "Ann");
        assert_eq!([count(1, "step"), count(0, "gate")], ["1 step", "0 gates"]);
        assert_eq!(words("level.start_below"), "level start below");
    }

    #[test]
    fn colour_adds_nothing_that_is_not_in_the_text() {
        let text = "CARD  INVENTED DATA\nSTEPS\n  1 Do it\n";
        assert_eq!(painted(text, false), text);
        let painted = painted(text, true);
        assert!(painted.contains("\u{1b}[7mINVENTED DATA\u{1b}[0m") && painted.contains("\u{1b}[1mSTEPS\u{1b}[0m"));
    }

    #[test]
    fn numbers_of_steps_are_gathered() {
        assert_eq!(numbers(&[3]), "step 3");
        assert_eq!(numbers(&[3, 5, 6, 7, 9, 10]), "steps 3, 5 to 7, 9, 10");
    }
}
