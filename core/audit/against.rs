//! What would have become of a finished job under newer data.
//!
//! Entries stay as they were made, and so does the way that the job took. What was computed from them is computed again,
//! ranges that were waited for are settled again, and every gate that was met is judged again.

use indexmap::IndexMap;
use serde::Serialize;

use super::decided::judge;
use super::margin::{Margin, margin, margin_to};
use crate::job::names::JobNames;
use crate::job::state::Reading;
use crate::job::{Address, State, Verdict};
use crate::library::{Files, Layer};
use crate::plan::{Inputs, Plan, Snapshot, build};
use crate::procedure::{Next, Progress, Weighed, With};
use crate::source::Place;
use crate::value::Value;

/// A finished job under newer data.
#[derive(Clone, Debug, Serialize)]
pub struct Recheck {
    /// What is no longer met, or no longer shown.
    pub missed: Vec<Missed>,
    /// Why some or all of it could not be judged again.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_judged: Vec<String>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Missed {
    pub address: Address,
    /// Line of the journal where it was met.
    pub line: u64,
    pub verdict: Verdict,
    /// What has to hold, as it is written in the newer data, and where.
    pub must: String,
    pub place: Place,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<Margin>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub missing: Vec<String>,
}

/// Builds the plan again with other plugins in the place of those of the same id, or over all others.
pub fn plan_under(snapshot: &Snapshot, newer: &Files) -> Result<Plan, String> {
    let old = &snapshot.files.list;
    let top = old.iter().map(|file| file.layer).max().unwrap_or(Layer::BuiltIn);
    let above = match top {
        Layer::BuiltIn => Layer::Given(1),
        Layer::Given(nth) => Layer::Given(nth + 1),
        Layer::Shop(nth) => Layer::Shop(nth + 1),
    };
    let replaced = |plugin: &str| newer.list.iter().any(|file| file.plugin == plugin);
    let mut files = Files::default();
    files.list.extend(old.iter().filter(|file| !replaced(&file.plugin)).cloned());
    for file in &newer.list {
        let layer = old.iter().find(|kept| kept.plugin == file.plugin).map_or(above, |kept| kept.layer);
        files.list.push(crate::library::File { layer, ..file.clone() });
    }
    let mut problems = Vec::new();
    let inputs = Inputs::new(snapshot.job.source(), snapshot.shop.as_ref().map(|shop| shop.source()), files);
    build(inputs, &mut problems).ok_or_else(|| {
        let first = problems.iter().find(|problem| problem.is_error());
        first.map_or_else(|| "no plan".to_owned(), |problem| format!("{}: {}", problem.place, problem.message))
    })
}

pub fn recheck(kept: &Plan, newer: &Plan, state: &State) -> Recheck {
    let mut recheck = Recheck { missed: Vec::new(), not_judged: Vec::new() };
    let (old, new) = (computed_again(kept, state), computed_again(newer, state));
    for passed in state.verdicts.iter().filter(|passed| !passed.superseded && passed.verdict == Verdict::Met) {
        let address = &passed.address;
        let gate = |plan: &Plan| plan.step(&address.step).is_some_and(|step| step.gate.is_some());
        if !gate(newer) {
            continue;
        }
        let (Some(before), Some(after)) = (kept.step(&address.step), newer.step(&address.step)) else { continue };
        let (Some(before), Some(after)) = (&before.gate, &after.gate) else { continue };
        let names = JobNames::as_of(kept, &old, passed.at, address.round(), passed.as_of);
        if judge(kept, &before.must, &names).0 != Verdict::Met {
            // It rested on something that is over by now, such as a reading that a pause has ended.
            recheck.not_judged.push(format!("`{address}`: its values are not what they were when it was judged"));
            continue;
        }
        let names = JobNames::as_of(newer, &new, passed.at, address.round(), passed.as_of);
        let (verdict, missing) = judge(newer, &after.must, &names);
        if verdict == Verdict::Met {
            continue;
        }
        recheck.missed.push(Missed {
            address: address.clone(),
            line: passed.seq,
            verdict,
            must: after.must.text().trim().to_owned(),
            place: after.must.place().clone(),
            margin: (verdict == Verdict::NotMet).then(|| margin(newer, &after.must, &names)).flatten(),
            missing,
        });
    }
    waited_for(newer, &new, &mut recheck);
    recheck.missed.sort_by_key(|missed| missed.line);
    recheck
}

/// Readings that a step waited for, against the range or time that it would wait for today.
fn waited_for(plan: &Plan, state: &State, recheck: &mut Recheck) {
    let mut latest: IndexMap<Address, &Reading> = IndexMap::new();
    for reading in state.readings.iter().filter(|it| it.counts && !it.computed && !it.rejected) {
        latest.insert(reading.address.clone(), reading);
    }
    for (address, reading) in latest {
        let Some(step) = plan.step(&address.step) else { continue };
        let Next::Settle { what, expr } = step.kind.next(&Progress::default()) else { continue };
        let names = JobNames::as_of(plan, state, reading.at, address.round(), reading.seq);
        let Ok(settled) = expr.evaluate(&plan.scripts, &names) else { continue };
        let progress =
            Progress { settled: IndexMap::from([(what.to_owned(), settled.clone())]), ..Progress::default() };
        let values = IndexMap::from([(reading.name.clone(), reading.value.clone())]);
        if step.kind.weigh(&progress, &values) == Weighed::Done {
            continue;
        }
        recheck.missed.push(Missed {
            line: reading.seq,
            verdict: Verdict::NotMet,
            must: format!("{} {what} {}", reading.name, plan.show(&settled)),
            place: expr.place().clone(),
            margin: margin_to(plan, &reading.name, &reading.value, &settled),
            missing: Vec::new(),
            address,
        });
    }
}

/// The state at the end of a job with everything that was computed computed under this plan.
fn computed_again(plan: &Plan, state: &State) -> State {
    let mut state = state.clone();
    for index in 0..state.readings.len() {
        let reading = state.readings[index].clone();
        if reading.computed
            && let Some(value) = compute(plan, &state, &reading)
        {
            state.readings[index].value = value;
        }
    }
    state
}

/// `None` where the plan no longer computes it.
fn compute(plan: &Plan, state: &State, reading: &Reading) -> Option<Value> {
    let step = plan.step(&reading.address.step)?;
    let names = JobNames::as_of(plan, state, reading.at, reading.address.round(), reading.seq);
    match step.kind.next(&Progress::default()) {
        Next::Give { expr, .. } => Some(expr.evaluate(&plan.scripts, &names).unwrap_or(Value::Unknown)),
        Next::Call { sheet, with: With::Exprs(exprs), .. } => {
            let sheet = plan.sheets.get(sheet.as_str())?;
            let mut inputs = IndexMap::new();
            for (name, expr) in exprs {
                match expr.evaluate(&plan.scripts, &names) {
                    Ok(value) => {
                        inputs.insert(name.clone(), value);
                    }
                    Err(_) if sheet.is_optional(name) => {}
                    Err(_) => return Some(Value::Unknown),
                }
            }
            let outcome = sheet.run(&plan.scripts, inputs);
            Some(outcome.map_or(Value::Unknown, |outcome| Value::Record(outcome.outputs)))
        }
        _ => None,
    }
}
