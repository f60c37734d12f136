//! What a card reckons before the job begins. What nobody has entered stays unknown, and so does what hangs on it.

use indexmap::IndexMap;
use jiff::civil::DateTime;

use super::Reckoned;
use crate::job::State;
use crate::job::names::JobNames;
use crate::plan::Plan;
use crate::procedure::Reckon;
use crate::render::shown::Named;
use crate::script::Fault;
use crate::value::Value;

pub fn reckoned(plan: &Plan, state: &State) -> Vec<Reckoned> {
    plan.main().reckon.iter().filter_map(|one| answer(plan, state, one)).collect()
}

fn answer(plan: &Plan, state: &State, one: &Reckon) -> Option<Reckoned> {
    let sheet = plan.sheets.get(one.sheet.as_str())?;
    let names = JobNames::new(plan, state, DateTime::MIN, 1);
    let (mut inputs, mut missing) = (IndexMap::new(), Vec::new());
    for (name, expr) in &one.with {
        match expr.evaluate(&plan.scripts, &names) {
            Ok(Value::Unknown) | Err(_) if sheet.is_optional(name) => {}
            Ok(Value::Unknown) => missing.push(name.clone()),
            Ok(value) => {
                inputs.insert(name.clone(), value);
            }
            Err(Fault::NotShown(names)) => missing.extend(names),
            Err(Fault::Failed(diagnostic)) => missing.push(diagnostic.message.clone()),
        }
    }
    let (mut results, mut warnings) = (Vec::new(), Vec::new());
    if missing.is_empty() {
        match sheet.run(&plan.scripts, inputs) {
            Ok(outcome) => {
                let known = outcome.outputs.iter().filter(|(_, value)| !value.is_unknown());
                results = known.map(|(name, value)| Named::new(plan, name, value)).collect();
                warnings = outcome.warnings;
            }
            Err(Fault::NotShown(names)) => missing = names,
            Err(Fault::Failed(diagnostic)) => missing.push(diagnostic.message.clone()),
        }
    }
    Some(Reckoned { title: one.title.clone(), sheet: one.sheet.value.clone(), results, warnings, missing })
}
