//! What would have become of a finished job under newer data, or with other readings.
//!
//! Entries stay as they were made, and so does the way that the job took. What was computed from them is computed again,
//! ranges that were waited for are settled again, and every gate that was met is judged again.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Serialize;

use super::margin::{Margin, margin, margin_to};
use super::moved::is_given;
use super::point::At;
use standpipe_diagnostic::source::Place;
use standpipe_job::judge::{Judgement, judge};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::said::Lack;
use standpipe_job::state::{Passed, Reading};
use standpipe_job::{Address, State, Verdict};
use standpipe_procedure::{Expr, Gate, Next, Progress, Weighed, With};
use standpipe_quantity::value::Value;

/// A finished job under newer data.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Recheck {
    /// What is no longer met, or no longer shown.
    pub missed: Vec<Missed>,
    /// Why some or all of it could not be judged again.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_judged: Vec<String>,
}

#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Missed {
    /// `step[round][item]`.
    #[schemars(with = "String")]
    pub address: Address,
    /// Line of the journal where it was met.
    pub line: u64,
    pub verdict: Verdict,
    /// What is assumed of the instrument, where it may be off either way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assumed: Option<String>,
    /// What has to hold, as it is written in the newer data, and where.
    pub must: String,
    pub place: At,
    /// The readings and results that it looks at, in the shop's units.
    #[serde(skip_serializing_if = "IndexMap::is_empty")]
    pub found: IndexMap<String, String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<Margin>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub missing: Vec<String>,
}

/// What is known of how a verdict came about.
pub(super) trait Before {
    /// Whether what a gate looked at is what it was when it was judged, so that it can be judged by this newer one.
    ///
    /// Errors: why it can't be. `None`: there is nothing to judge.
    fn stands(&self, newer: &Plan, after: Option<&Gate>, passed: &Passed) -> Option<Result<(), String>>;

    /// Whether a step went on waiting with this reading; `None` where it waited for nothing.
    fn waited(&self, newer: &Plan, index: usize) -> Option<bool>;
}

/// A job with the plan that it was done by.
struct Kept<'a> {
    plan: &'a Plan,
    state: State,
}

impl Before for Kept<'_> {
    fn stands(&self, _: &Plan, after: Option<&Gate>, passed: &Passed) -> Option<Result<(), String>> {
        after?;
        let gate = self.plan.step(&passed.address.step)?.gate.as_ref()?;
        let names = JobNames::at(self.plan, &self.state, &passed.address, passed.at, passed.as_of);
        // It may have rested on something that is over by now, such as a reading that a pause has ended.
        let same = judge(self.plan, gate, &names).verdict == Verdict::Met;
        Some(if same { Ok(()) } else { Err("its values are not what they were when it was judged".to_owned()) })
    }

    fn waited(&self, _: &Plan, index: usize) -> Option<bool> {
        let reading = &self.state.readings[index];
        Some(waits(self.plan, &settled(self.plan, &self.state, reading)?.progress, reading))
    }
}

/// Under newer data.
pub fn recheck(kept: &Plan, newer: &Plan, state: &State) -> Recheck {
    between(kept, newer, state, state)
}

/// `truly`: the state with the readings as they would have been.
pub(crate) fn between(kept: &Plan, newer: &Plan, state: &State, truly: &State) -> Recheck {
    again(&Kept { plan: kept, state: computed_again(kept, state) }, newer, truly)
}

pub(super) fn again(before: &dyn Before, newer: &Plan, state: &State) -> Recheck {
    let mut recheck = Recheck { missed: Vec::new(), not_judged: Vec::new() };
    let new = computed_again(newer, state);
    for passed in state.verdicts.iter().filter(|passed| !passed.superseded && passed.verdict == Verdict::Met) {
        let address = &passed.address;
        let unjudged = |why: String| format!("`{address}`: {why}");
        let after = newer.step(&address.step).and_then(|step| step.gate.as_ref());
        match before.stands(newer, after, passed) {
            None => continue,
            Some(Ok(())) => {}
            Some(Err(why)) => {
                recheck.not_judged.push(unjudged(why));
                continue;
            }
        }
        let Some(after) = after else { continue };
        let names = JobNames::at(newer, &new, address, passed.at, passed.as_of);
        let Judgement { verdict, missing, .. } = judge(newer, after, &names);
        if verdict == Verdict::Met {
            continue;
        }
        recheck.missed.push(Missed {
            address: address.clone(),
            line: passed.seq,
            verdict,
            assumed: None,
            must: after.words(),
            place: at(after.must.place()),
            found: found(newer, &after.must, &names),
            margin: (verdict == Verdict::NotMet).then(|| margin(newer, &after.must, &names, &new)).flatten(),
            missing: missing.iter().map(Lack::to_string).collect(),
        });
    }
    waited_for(before, newer, &new, &mut recheck);
    recheck.missed.sort_by_key(|missed| missed.line);
    recheck
}

/// Without the text of the file, which a place would keep in memory.
fn at(place: &Place) -> At {
    At { file: place.name().to_owned(), line: Some(place.line() as u64) }
}

fn found(plan: &Plan, must: &Expr, names: &JobNames<'_>) -> IndexMap<String, String> {
    let looked_at = must.names(&plan.scripts).filter(|name| !name.path.first().is_some_and(|first| is_given(first)));
    looked_at.filter_map(|name| Some((name.path.join("."), plan.show(&names.path(&name.path)?)))).collect()
}

/// Readings that a step waited for, against the range or time that it would wait for today.
fn waited_for(before: &dyn Before, newer: &Plan, new: &State, recheck: &mut Recheck) {
    let mut latest: IndexMap<Address, usize> = IndexMap::new();
    for index in 0..new.readings.len() {
        let reading = &new.readings[index];
        if reading.counts && !reading.computed && !reading.rejected {
            latest.insert(reading.address.clone(), index);
        }
    }
    for (address, index) in latest {
        let reading = &new.readings[index];
        let Some(now) = settled(newer, new, reading) else { continue };
        if before.waited(newer, index) != Some(false) || !waits(newer, &now.progress, reading) {
            continue;
        }
        recheck.missed.push(Missed {
            line: reading.seq,
            verdict: Verdict::NotMet,
            assumed: None,
            must: format!("{} {} {}", reading.name, now.what, newer.show(&now.value)),
            place: at(&now.place),
            found: IndexMap::new(),
            margin: margin_to(newer, &reading.name, &reading.value, &now.value),
            missing: Vec::new(),
            address,
        });
    }
}

/// Whether a step goes on waiting with this reading, by what it has settled.
pub(super) fn waits(plan: &Plan, settled: &Progress, reading: &Reading) -> bool {
    let values = IndexMap::from([(reading.name.clone(), reading.value.clone())]);
    plan.step(&reading.address.step).is_some_and(|step| step.kind.weigh(settled, &values) != Weighed::Done)
}

/// What a step has to know before it asks, and the last of it: what an entry is weighed against.
struct Settled {
    progress: Progress,
    what: &'static str,
    value: Value,
    place: Place,
}

/// `None` for a step that weighs nothing.
fn settled(plan: &Plan, state: &State, reading: &Reading) -> Option<Settled> {
    let step = plan.step(&reading.address.step)?;
    let known = state.step(&reading.address.whole()).map(|step| &step.progress.settled);
    let names = JobNames::at(plan, state, &reading.address, reading.at, reading.seq);
    let (mut progress, mut last) = (Progress::default(), None);
    loop {
        match step.kind.next(&progress) {
            Next::Settle { what, expr } => {
                let value = expr.evaluate(&plan.scripts, &names).ok()?;
                progress.settled.insert(what.to_owned(), value.clone());
                last = Some((what, value, expr.place().clone()));
            }
            // The order of items changes nothing about what each is weighed against.
            Next::Call { what, .. } | Next::Give { what, .. } => {
                progress.settled.insert(what.to_owned(), known?.get(what)?.clone());
            }
            _ => break,
        }
    }
    let (what, value, place) = last?;
    Some(Settled { progress, what, value, place })
}

/// The state at the end of a job with everything that was computed computed under this plan.
fn computed_again(plan: &Plan, state: &State) -> State {
    let mut state = state.clone();
    for index in 0..state.readings.len() {
        let reading = state.readings[index].clone();
        if reading.computed
            && let Some(value) = compute(plan, &state, &reading)
        {
            state.readings.change_at(index).value = value;
        }
    }
    state
}

/// `None` where the plan no longer computes it.
fn compute(plan: &Plan, state: &State, reading: &Reading) -> Option<Value> {
    let step = plan.step(&reading.address.step)?;
    let names = JobNames::at(plan, state, &reading.address, reading.at, reading.seq);
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
