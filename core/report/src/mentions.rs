//! Which facts a step speaks of: in its expressions, its texts, and what it says that it needs.

use indexmap::IndexSet;

use standpipe_job::plan::Plan;
use standpipe_procedure::{Step, Template};

/// Paths such as `spec.level.window` that a step mentions; ends of ranges count as their range.
pub fn facts(plan: &Plan, step: &Step) -> IndexSet<String> {
    let mut found = IndexSet::new();
    let gate = step.gate.as_ref();
    let expressions = step.when.iter().chain(gate.map(|gate| &gate.must)).chain(step.kind.expressions());
    for expression in expressions {
        for name in expression.names(&plan.scripts) {
            add(&mut found, &name.path);
        }
    }
    let stake = gate.and_then(|gate| gate.at_stake.as_ref());
    let texts = std::iter::once(&step.title).chain(&step.show).chain(&step.witness).chain(&step.why).chain(stake);
    for path in texts.flat_map(Template::paths) {
        add(&mut found, path);
    }
    for need in &step.needs {
        found.insert(format!("spec.{}", need.value.replace('-', "_")));
    }
    found
}

fn add(found: &mut IndexSet<String>, path: &[String]) {
    let path = match path {
        [rest @ .., end] if end == "low" || end == "high" => rest,
        path => path,
    };
    if path.len() > 1 && matches!(path[0].as_str(), "spec" | "job" | "shop") {
        found.insert(path.join("."));
    }
}
