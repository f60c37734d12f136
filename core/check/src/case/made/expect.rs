//! What came of the job: how it ended, rounds, verdicts, and every result.

use indexmap::IndexSet;

use super::written::{map, quoted, scalar};
use crate::case::job::{ends, rounds_of, value_of, verdict_of};
use standpipe_drivers::headless::End;
use standpipe_job::{Machine, State};
use standpipe_procedure::Children;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_script::usable_name;

/// Results of the same code on the same entries; only the last bits may differ.
const TOLERANCE: &str = "1e-9";

pub fn case(id: &str, machine: &Machine, state: &State) -> String {
    let plan = &machine.plan;
    let pending = machine.pending(state);
    let end = End::of(&pending);
    let mut text = format!(
        "# Keys: standpipe schema case\ncase: {id}\n{}procedure: {}\njob: {id}-job.yaml\nanswers: {id}-answers.yaml\nexpect:\n",
        if plan.invented { "invented: true\n" } else { "" },
        plan.procedure
    );
    text.push_str(&format!("  ends: {}\n", ends(end)));
    if let (End::Stopped | End::Waiting, Some(step)) = (end, pending.step()) {
        text.push_str(&format!("  held_at: {step}\n"));
    }
    if let Some(variant) = &state.variant {
        text.push_str(&format!("  variant: {}\n", scalar(variant)));
    }
    let repeats = plan.procedures.values().flat_map(|procedure| procedure.all_steps());
    let repeats = repeats.filter(|step| matches!(step.kind.children(), Children::Steps(_)));
    let rounds: Vec<_> = repeats
        .map(|step| (step.id.as_str(), rounds_of(machine, state, &step.id)))
        .filter(|(_, rounds)| *rounds > 0)
        .map(|(id, rounds)| (id, rounds.to_string()))
        .collect();
    if !rounds.is_empty() {
        text.push_str(&format!("  rounds: {}\n", map(rounds)));
    }
    let judged: IndexSet<&str> = state.verdicts.iter().map(|passed| passed.address.step.as_str()).collect();
    lines(&mut text, "verdicts", judged.into_iter().map(|step| (step.to_owned(), verdict_of(state, step))));
    let mut values = Vec::new();
    let computed = state.readings.iter().filter(|reading| reading.computed && !reading.rejected);
    let names: IndexSet<&str> = computed.map(|reading| reading.name.as_str()).collect();
    for name in names {
        if let Some(value) = value_of(state, name) {
            leaves(name, value, &plan.units, &mut values);
        }
    }
    lines(&mut text, "values", values);
    text.push_str(&format!("  tolerance: {TOLERANCE}\n"));
    let when = state.at.map(|at| format!(" of {}", at.date())).unwrap_or_default();
    let source =
        format!("what came of a job{when}, as it was recorded: no check of the formulas, but of every later change");
    text.push_str(&format!("source: {}\n", quoted(&source)));
    text
}

fn lines(text: &mut String, key: &str, entries: impl IntoIterator<Item = (String, String)>) {
    let lines: String = entries.into_iter().map(|(name, value)| format!("    {name}: {value}\n")).collect();
    if !lines.is_empty() {
        text.push_str(&format!("  {key}:\n{lines}"));
    }
}

/// Every part that is one value. A list says nothing that its source does not.
fn leaves(path: &str, value: &Value, units: &Units, found: &mut Vec<(String, String)>) {
    let one = |quantity: &Quantity| {
        let (number, unit) = units.plain(quantity);
        format!("{number} {unit}").trim_end().to_owned()
    };
    let text = match value {
        Value::Record(parts) => {
            for (name, part) in parts.iter().filter(|(name, _)| usable_name(name)) {
                leaves(&format!("{path}.{name}"), part, units, found);
            }
            return;
        }
        Value::Unknown | Value::List(_) => return,
        Value::Truth(truth) => truth.to_string(),
        Value::Number(number) => number.to_string(),
        Value::Quantity(quantity) => quoted(&one(quantity)),
        Value::Range(low, high) => {
            let ((low, unit), (high, of_high)) = (units.plain(low), units.plain(high));
            if unit != of_high {
                return;
            }
            quoted(&format!("{low}..{high} {unit}"))
        }
        Value::Text(text) => quoted(text),
    };
    found.push((path.to_owned(), text));
}
