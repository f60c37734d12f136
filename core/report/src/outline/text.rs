//! A procedure as text.

use super::{Gate, Given, OutlineView, Step, all};
use crate::shown::{banner, count, headline, page, painted, section};
use standpipe_diagnostic::columns::{hang, spread, width as columns, wrap};
use standpipe_diagnostic::source::Place;
use standpipe_procedure::Mark;

/// `places`: with the file and line of every piece.
pub fn text(view: &OutlineView, places: bool, width: usize, colour: bool) -> String {
    let heading = format!("PROCEDURE {}", view.procedure);
    let mut page_of = Outline { places, width, out: vec![headline(&heading, banner(false, view.invented), width)] };
    page_of.out.extend(wrap(&view.title, width));
    let steps = all(&view.steps);
    let gates = steps.iter().filter(|step| step.gate.is_some()).count();
    let size = format!("{}, {}", count(steps.len(), "step"), count(gates, "gate"));
    let form = view.form.as_ref().map_or(size.clone(), |form| format!("{size}, for {form} families"));
    page_of.out.extend(wrap(&form, width));
    for (label, ids) in [
        ("at any step      ", view.reachable.join(", ")),
        ("before a pause   ", view.on_pause.clone().unwrap_or_default()),
        ("after a pause    ", view.on_resume.clone().unwrap_or_default()),
    ] {
        if !ids.is_empty() {
            page_of.out.extend(hang(label, &ids, width));
        }
    }
    page_of.steps(&view.steps, 0);
    page_of.left_out(view);
    page_of.families(view);
    painted(&page(&page_of.out), colour)
}

struct Outline {
    places: bool,
    width: usize,
    out: Vec<String>,
}

impl Outline {
    fn steps(&mut self, steps: &[Step], depth: usize) {
        for step in steps {
            self.out.push(String::new());
            self.step(step, depth);
            self.steps(&step.steps, depth + 1);
        }
    }

    /// A line of a step, under its id.
    fn line(&mut self, depth: usize, label: &str, text: &str, place: Option<&Place>) {
        let place = place.filter(|_| self.places).map(|place| format!("   {place}")).unwrap_or_default();
        let label = format!("{}    {label:<10}", "  ".repeat(depth));
        self.out.extend(hang(&label, &format!("{text}{place}"), self.width.max(columns(&label) + 24)));
    }

    fn mark(&mut self, depth: usize, mark: &Mark) {
        let because = mark.because.as_ref().map(|because| format!(", {because}")).unwrap_or_default();
        let words = format!("by the overlay {}: {}{because}", mark.overlay, mark.what.words());
        self.line(depth, "shop", &words, Some(&mark.place));
    }

    fn step(&mut self, step: &Step, depth: usize) {
        let mut tags = Vec::new();
        tags.extend(step.witness.as_ref().map(|_| "witness"));
        tags.extend(step.evidence);
        tags.extend(step.gate.as_ref().map(|_| "GATE"));
        tags.extend(step.keep.then_some("kept"));
        let indent = "  ".repeat(depth);
        self.out.push(spread(&format!("{indent}{}  ({})", step.step, step.kind), &tags.join(", "), self.width));
        if self.places {
            self.out.push(format!("{indent}    {}", step.place));
        }
        self.out.extend(hang(&format!("{indent}    "), &step.title, self.width));
        if step.does != step.title {
            self.out.extend(hang(&format!("{indent}    "), &step.does, self.width));
        }
        for caution in &step.cautions {
            self.out.extend(hang(&format!("{indent}  ! "), caution, self.width));
        }
        for mark in &step.changed {
            self.mark(depth, mark);
        }
        if let Some(when) = &step.when {
            self.line(depth, "only if", when, None);
        }
        if !step.reads.is_empty() {
            let read: Vec<String> = step
                .reads
                .iter()
                .map(|read| match read.from.as_slice() {
                    [] => format!("{} (from nowhere)", read.name),
                    [own] if *own == step.step => format!("{} (here)", read.name),
                    from => format!("{} ({})", read.name, from.join(", ")),
                })
                .collect();
            self.line(depth, "reads", &read.join("; "), None);
        }
        if !step.gives.is_empty() {
            let told = |given: &Given| match given.is.as_str() {
                "" => given.name.clone(),
                is => format!("{}, {is}", given.name),
            };
            let given: Vec<String> = step.gives.iter().map(told).collect();
            self.line(depth, "gives", &given.join("; "), None);
        }
        if let Some(gate) = &step.gate {
            self.gate(depth, gate);
        }
        if let Some(witness) = &step.witness {
            self.line(depth, "witness", witness, None);
        }
        for (label, what) in [("ends with", &step.stale), ("raises", &step.raises), ("undoes", &step.undoes)] {
            if !what.is_empty() {
                self.line(depth, label, &what.join(", "), None);
            }
        }
    }

    fn gate(&mut self, depth: usize, gate: &Gate) {
        match self.places {
            true => {
                for (index, condition) in gate.conditions.iter().enumerate() {
                    let label = if index == 0 { "must" } else { "and must" };
                    self.line(depth, label, &condition.must, Some(&condition.place));
                }
            }
            false => self.line(depth, "must", &gate.must, None),
        }
        for limit in &gate.limits {
            let told: Vec<String> =
                limit.of.iter().map(|said| format!("{} for {}", said.shown, said.families.join(", "))).collect();
            self.line(depth, "", &format!("{}: {}", limit.field, told.join("; ")), None);
        }
        self.line(depth, "else", &gate.otherwise, None);
        if let Some(stake) = &gate.at_stake {
            self.line(depth, "at stake", stake, None);
        }
    }

    fn left_out(&mut self, view: &OutlineView) {
        if view.left_out.is_empty() {
            return;
        }
        section(&mut self.out, "Left out by the shop");
        for gone in &view.left_out {
            let place = if self.places { format!("   {}", gone.place) } else { String::new() };
            self.out.push(format!("{}  is left out{place}", gone.step));
            self.mark(0, &gone.changed);
        }
    }

    fn families(&mut self, view: &OutlineView) {
        if view.families.is_empty() {
            return;
        }
        section(&mut self.out, "How far each family comes");
        let whole = all(&view.steps).len();
        for way in &view.families {
            let heading = match way.around.is_empty() {
                true => format!("all {whole} steps"),
                false => format!("{} of {whole} steps", way.steps),
            };
            self.out.extend(wrap(&format!("{}: {heading}", way.of.join(", ")), self.width));
            for (label, what) in [("not", &way.around), ("lacks", &way.lacks)] {
                if !what.is_empty() {
                    self.line(0, label, &what.join(", "), None);
                }
            }
        }
    }
}
