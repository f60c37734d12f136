//! One procedure as it runs here, overlays of the shop laid over it: its steps, what each does, and its gates.

use indexmap::IndexMap;
use serde_json::{Value as Json, json};

use super::{Found, Known, Shown, last};
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Place;
use standpipe_job::plan::reach;
use standpipe_procedure::{Children, Expr, Gate, LeftOut, Mark, Otherwise, Procedure, Step};
use standpipe_yaml::At;

pub(super) fn show(id: &At<String>, known: Known<'_>, problems: &mut Problems) -> Found {
    let Known { parsed, mut overlays, places, .. } = known;
    let over: Vec<At<String>> = overlays.iter().filter_map(|overlay| overlay.procedure.clone()).collect();
    let reached = reach(parsed, id, &over, &mut overlays, problems);
    let Some(procedure) = reached.as_ref().and_then(|reached| reached.procedures.get(id.as_str())) else {
        return Err(last(problems, id, "procedure"));
    };
    let known = reached.as_ref().map(|reached| &reached.procedures);
    let text = format!("{}: {}\n", procedure.id.value, procedure.title);
    let mut page = Page { places, known, within: vec![procedure.id.value.clone()], text };
    if !procedure.reachable.is_empty() {
        let ids: Vec<&str> = procedure.reachable.iter().map(|id| id.as_str()).collect();
        page.text.push_str(&format!("at any step: {}\n", ids.join(", ")));
    }
    page.text.push('\n');
    let steps = page.steps(&procedure.steps, 0);
    let left_out = page.left_out(procedure, 0);
    Ok(Shown {
        text: page.text,
        json: json!({
            "procedure": procedure.id.value, "title": procedure.title, "steps": steps, "left_out": left_out,
        }),
    })
}

struct Page<'a> {
    places: bool,
    /// What can be included, with everything that is laid over it.
    known: Option<&'a IndexMap<String, Procedure>>,
    /// Ids of the procedures that enclose the present step: a circle must not be followed.
    within: Vec<String>,
    text: String,
}

impl Page<'_> {
    /// Steps that an overlay took out.
    fn left_out(&mut self, procedure: &Procedure, depth: usize) -> Vec<Json> {
        let indent = "  ".repeat(depth);
        for left_out in &procedure.left_out {
            self.line(&indent, &format!("{}  is left out", left_out.step.id.value), &left_out.step.place);
            self.mark(&indent, &left_out.mark);
        }
        let told = |it: &LeftOut| json!({ "step": it.step.id.value, "place": it.step.place, "changed": it.mark });
        procedure.left_out.iter().map(told).collect()
    }

    /// The steps of a procedure that is included, where they are done.
    fn included(&mut self, id: &str, depth: usize) -> (Vec<Json>, Vec<Json>) {
        let procedure = self.known.and_then(|known| known.get(id)).filter(|_| !self.within.iter().any(|it| it == id));
        let Some(procedure) = procedure else { return (Vec::new(), Vec::new()) };
        self.within.push(id.to_owned());
        let steps = self.steps(&procedure.steps, depth);
        let left_out = self.left_out(procedure, depth);
        self.within.pop();
        (steps, left_out)
    }

    fn line(&mut self, indent: &str, words: &str, place: &Place) {
        let place = if self.places { format!("   {place}") } else { String::new() };
        self.text.push_str(&format!("{indent}{words}{place}\n"));
    }

    fn mark(&mut self, indent: &str, mark: &Mark) {
        let because = mark.because.as_ref().map(|because| format!(", {because}")).unwrap_or_default();
        let words = format!("by the overlay {}: {}{because}", mark.overlay, mark.what.words());
        self.line(&format!("{indent}    "), &words, &mark.place);
    }

    fn gate(&mut self, indent: &str, gate: &Gate) {
        let otherwise = match &gate.otherwise {
            Otherwise::Wait => "wait".to_owned(),
            Otherwise::Stop => "stop".to_owned(),
            Otherwise::NextRound => "next round".to_owned(),
            Otherwise::Ask(roles) => format!("ask {}", roles.join(" or ")),
        };
        let indent = format!("{indent}    ");
        if !self.places {
            self.text.push_str(&format!("{indent}must {}, otherwise {otherwise}\n", one_line(&gate.words())));
            return;
        }
        for (index, part) in gate.must.parts().enumerate() {
            let word = if index == 0 { "must" } else { "and must" };
            self.line(&indent, &format!("{word} {}", one_line(part.own_text())), part.place());
        }
        self.text.push_str(&format!("{indent}otherwise {otherwise}\n"));
    }

    fn steps(&mut self, of: &[Step], depth: usize) -> Vec<Json> {
        let indent = "  ".repeat(depth);
        let mut list = Vec::new();
        for step in of {
            let kept = if step.keep { " (kept)" } else { "" };
            let words = format!("{}  {}: {}{kept}", step.id.value, step.kind.word(), step.kind.summary());
            self.line(&indent, &words, &step.place);
            for mark in &step.marks {
                self.mark(&indent, mark);
            }
            if let Some(when) = &step.when {
                self.text.push_str(&format!("{indent}    when {}\n", one_line(when.text())));
            }
            if let Some(gate) = &step.gate {
                self.gate(&indent, gate);
            }
            let (children, left_out) = match step.kind.children() {
                Children::Steps(children) => (self.steps(children, depth + 1), Vec::new()),
                Children::Procedure(id) => self.included(id, depth + 1),
                Children::None => Default::default(),
            };
            let parts = |gate: &Gate| -> Vec<Json> { gate.must.parts().map(part).collect() };
            list.push(json!({
                "step": step.id.value, "kind": step.kind.word(), "does": step.kind.summary(), "keep": step.keep,
                "when": step.when.as_ref().map(|when| when.text()),
                "must": step.gate.as_ref().map(|gate| gate.words()),
                "conditions": step.gate.as_ref().map(parts),
                "changed": step.marks, "place": step.place, "steps": children, "left_out": left_out,
            }));
        }
        list
    }
}

fn part(expr: &Expr) -> Json {
    json!({ "must": expr.own_text(), "place": expr.place() })
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
