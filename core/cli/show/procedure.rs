//! One procedure: its steps, what each does, and its gates.

use serde_json::{Value as Json, json};

use super::{Found, Shown, last};
use crate::diagnostic::Problems;
use crate::library::Kind;
use crate::plan::Parsed;
use crate::procedure::{Children, Otherwise, Step};
use crate::source::At;

pub fn show(id: &At<String>, origin: bool, parsed: &Parsed, problems: &mut Problems) -> Found {
    let Some(document) = parsed.library.find(Kind::Procedure, id, problems).cloned() else {
        return Err(last(problems, id, "procedure"));
    };
    let Some(procedure) = parsed.procedure(&document, problems) else { return Err(last(problems, id, "procedure")) };
    let mut text = format!("{}: {}\n", procedure.id.value, procedure.title);
    if !procedure.reachable.is_empty() {
        let ids: Vec<&str> = procedure.reachable.iter().map(|id| id.as_str()).collect();
        text.push_str(&format!("at any step: {}\n", ids.join(", ")));
    }
    text.push('\n');
    let steps = steps(&procedure.steps, 0, origin, &mut text);
    Ok(Shown { text, json: json!({ "procedure": procedure.id.value, "title": procedure.title, "steps": steps }) })
}

fn steps(steps_of: &[Step], depth: usize, origin: bool, text: &mut String) -> Vec<Json> {
    let indent = "  ".repeat(depth);
    let mut list = Vec::new();
    for step in steps_of {
        let place = if origin { format!("   {}", step.place) } else { String::new() };
        let marks = if step.keep { " (kept)" } else { "" };
        text.push_str(&format!(
            "{indent}{}  {}: {}{marks}{place}\n",
            step.id.value,
            step.kind.word(),
            step.kind.summary()
        ));
        if let Some(when) = &step.when {
            text.push_str(&format!("{indent}    when {}\n", one_line(when.text())));
        }
        if let Some(gate) = &step.gate {
            let otherwise = match &gate.otherwise {
                Otherwise::Wait => "wait".to_owned(),
                Otherwise::Stop => "stop".to_owned(),
                Otherwise::NextRound => "next round".to_owned(),
                Otherwise::Ask(roles) => format!("ask {}", roles.join(" or ")),
            };
            text.push_str(&format!("{indent}    must {}, otherwise {otherwise}\n", one_line(gate.must.text())));
        }
        let children = match step.kind.children() {
            Children::Steps(children) => steps(children, depth + 1, origin, text),
            _ => Vec::new(),
        };
        list.push(json!({
            "step": step.id.value, "kind": step.kind.word(), "does": step.kind.summary(), "keep": step.keep,
            "when": step.when.as_ref().map(|when| when.text()),
            "must": step.gate.as_ref().map(|gate| gate.must.text()),
            "place": step.place, "steps": children,
        }));
    }
    list
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
