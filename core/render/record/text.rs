//! The record as text, section by section.

use super::{FIRST, Fact, RecordView, Required, Work};
use crate::columns::{hang, spread};
use crate::job::Verdict;
use crate::render::lines::wrapped;

pub fn text(view: &RecordView, width: usize, _colour: bool) -> String {
    let mut page = Page { out: String::new(), width };
    page.head(view);
    page.required(view);
    page.measured(view);
    page.computed(view);
    page.assumed(view);
    page.what_changed(view);
    page.work(view);
    page.foot(view);
    page.out
}

struct Page {
    out: String,
    width: usize,
}

impl Page {
    fn line(&mut self, text: &str) {
        self.out.push_str(&wrapped(text, self.width, ""));
    }

    /// A label of ten columns, and the text beside it.
    fn labelled(&mut self, label: &str, text: &str) {
        for line in hang(&format!("{label:<10}"), text, self.width) {
            self.out.push_str(&line);
            self.out.push('\n');
        }
    }

    fn hanging(&mut self, text: &str, indent: usize) {
        self.out.push_str(&wrapped(text, self.width, &" ".repeat(indent)));
    }

    fn section(&mut self, title: &str) {
        self.out.push_str(&format!("\n{title}\n"));
    }

    fn head(&mut self, view: &RecordView) {
        let banner = if view.invented { "INVENTED DATA" } else { "" };
        self.out.push_str(&spread(&format!("RECORD {}", view.job), banner, self.width));
        self.out.push('\n');
        if let Some(title) = &view.title {
            self.line(title);
        }
        self.line(&view.procedure);
        let variant = view.variant.as_ref().map(|variant| format!(", {variant}")).unwrap_or_default();
        self.line(&format!("{}{variant}", view.family));
        if !view.shop.is_empty() {
            self.line(&view.shop);
        }
        for fact in &view.facts {
            self.hanging(&format!("{}: {}", fact.path.replace(['.', '_'], " "), fact.shown), 4);
        }
        self.out.push('\n');
        for line in &view.outcome {
            self.line(line);
        }
        if !view.open.is_empty() {
            self.section("OPEN");
            for open in &view.open {
                self.hanging(&format!("- {open}"), 2);
            }
        }
    }

    fn required(&mut self, view: &RecordView) {
        let counting: Vec<&Required> = view.required.iter().filter(|required| !required.superseded).collect();
        if counting.is_empty() {
            return;
        }
        self.section("REQUIRED");
        for required in counting {
            let word = match (required.verdict, required.accepted) {
                (_, true) => "ACCEPTED",
                (Verdict::Met, _) => "met",
                (Verdict::NotMet, _) => "NOT MET",
                (Verdict::NotShown, _) => "NOT SHOWN",
            };
            self.labelled(word, &format!("{} ({})", required.title, required.address));
            self.labelled("", &required.must);
            if !required.found.is_empty() {
                self.labelled("", &format!("found: {}", shown(&required.found)));
            }
            if !required.missing.is_empty() {
                self.labelled("", &format!("missing: {}", required.missing.join(", ")));
            }
        }
        let tries = view.required.iter().filter(|required| required.superseded && required.verdict != Verdict::Met);
        let tries: Vec<&Required> = tries.collect();
        if !tries.is_empty() {
            self.section("NOT MET AT FIRST, OR JUDGED AGAIN");
            for required in tries {
                self.hanging(
                    &format!("{} {} ({}): {}", required.at, required.title, required.address, shown(&required.found)),
                    4,
                );
            }
        }
    }

    fn measured(&mut self, view: &RecordView) {
        let with_numbers = view.work.iter().filter(|work| work.counts && work.values.iter().any(|value| value.number));
        let with_numbers: Vec<&Work> = with_numbers.collect();
        if with_numbers.is_empty() {
            return;
        }
        self.section("MEASURED");
        for work in with_numbers {
            for value in work.values.iter().filter(|value| value.number) {
                let as_typed =
                    if value.typed.trim() == value.shown { String::new() } else { format!(" (typed {})", value.typed) };
                let with = value.with.as_ref().map(|with| format!(", {with}")).unwrap_or_default();
                self.hanging(
                    &format!(
                        "{} {}: {}{as_typed}{with}, {}",
                        work.at,
                        value.name.replace('_', " "),
                        value.shown,
                        work.by
                    ),
                    4,
                );
            }
        }
    }

    fn computed(&mut self, view: &RecordView) {
        if view.computed.is_empty() {
            return;
        }
        self.section("COMPUTED");
        for computed in &view.computed {
            let by = computed.sheet.as_ref().map(|sheet| format!(" by {sheet}")).unwrap_or_default();
            let known: Vec<Fact> = computed.values.iter().filter(|fact| !fact.value.is_unknown()).cloned().collect();
            let text = if known.is_empty() { "not shown".to_owned() } else { shown(&known) };
            self.hanging(&format!("{}{by}: {text}", computed.name.replace('_', " ")), 4);
            if !computed.inputs.is_empty() {
                self.hanging(&format!("    from {}", shown(&computed.inputs)), 9);
            }
            for missing in &computed.missing {
                self.hanging(&format!("    missing: {missing}"), 9);
            }
            for warning in &computed.warnings {
                self.hanging(&format!("    ! {warning}"), 6);
            }
        }
    }

    fn assumed(&mut self, view: &RecordView) {
        if view.assumed.is_empty() {
            return;
        }
        self.section("ASSUMED");
        for assumed in &view.assumed {
            self.hanging(
                &format!("{}: {}, {} (entered by {})", assumed.what, assumed.shown, assumed.source, assumed.by),
                4,
            );
        }
    }

    fn what_changed(&mut self, view: &RecordView) {
        if !view.corrections.is_empty() {
            self.section("CORRECTED");
            for it in &view.corrections {
                self.hanging(
                    &format!(
                        "{} {}: {} became {}, {} ({})",
                        it.at,
                        it.name.replace('_', " "),
                        it.was,
                        it.is,
                        it.because,
                        it.by
                    ),
                    4,
                );
            }
        }
        for (title, list) in [("ACCEPTED WITH A REASON", &view.accepted), ("LEFT OUT WITH A REASON", &view.skipped)] {
            if !list.is_empty() {
                self.section(title);
                for it in list {
                    self.hanging(&format!("{} {} ({}): {} ({})", it.at, it.title, it.address, it.because, it.by), 4);
                }
            }
        }
        if !view.calls.is_empty() {
            self.section("WENT WRONG");
            for call in &view.calls {
                self.hanging(&format!("{} {} ({}), called by {}", call.at, call.title, call.procedure, call.by), 4);
            }
        }
        if !view.pauses.is_empty() {
            self.section("PAUSED");
            for pause in &view.pauses {
                let from = pause.from.clone().unwrap_or_else(|| "not announced".to_owned());
                let to = pause.to.clone().unwrap_or_else(|| "still paused".to_owned());
                let resumed = pause.resumed_by.as_ref().map(|by| format!(", resumed by {by}")).unwrap_or_default();
                self.hanging(&format!("{from} by {}, until {to}{resumed}", pause.by), 4);
                for line in &pause.tag {
                    self.hanging(&format!("    tag: {line}"), 9);
                }
            }
        }
        if !view.notes.is_empty() {
            self.section("NOTES");
            for note in &view.notes {
                self.hanging(&format!("{} {} ({})", note.at, note.text, note.by), 4);
            }
        }
    }

    fn work(&mut self, view: &RecordView) {
        self.section("WHO DID WHAT");
        let mut day = "";
        for work in &view.work {
            let (date, time) = work.at.split_once(' ').unwrap_or(("", &work.at));
            if date != day {
                self.out.push_str(&format!("{date}\n"));
                day = date;
            }
            let items = match work.items.as_slice() {
                [] => String::new(),
                [one] => format!(", {one}"),
                [first, .., last] => format!(", {first} to {last}"),
            };
            let values: Vec<String> =
                work.values.iter().map(|value| format!("{} {}", value.name.replace('_', " "), value.shown)).collect();
            let values = if values.is_empty() { String::new() } else { format!(": {}", values.join(", ")) };
            let witness = work.witness.as_ref().map(|name| format!(", witness {name}")).unwrap_or_default();
            let late = work.entered_at.as_ref().map(|at| format!(", entered {at}")).unwrap_or_default();
            let photo = if work.evidence > 0 { ", photo" } else { "" };
            let counts = if work.counts { "" } else { ", does not count" };
            let remarks: String = work.remarks.iter().map(|remark| format!("; {remark}")).collect();
            self.hanging(
                &format!("{time} {:<6} {}{items}{values}{witness}{photo}{late}{counts}{remarks}", work.by, work.title),
                13,
            );
        }
    }

    fn foot(&mut self, view: &RecordView) {
        self.out.push('\n');
        if let Some(seal) = &view.seal {
            self.out.push_str(&format!("seal {seal}\n"));
        }
        self.out.push_str(&format!("plan {}\n", view.plan.hash));
        self.out.push_str(&format!("standpipe {}, {}\n", view.plan.tool, view.plan.interpreter));
        self.line(FIRST);
    }
}

fn shown(facts: &[Fact]) -> String {
    facts.iter().map(|fact| format!("{} {}", fact.path.replace('_', " "), fact.shown)).collect::<Vec<_>>().join(", ")
}
