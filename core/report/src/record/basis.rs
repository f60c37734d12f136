//! What the job rests on: what was required, measured, seen, computed and assumed.

use indexmap::{IndexMap, IndexSet};
use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;
use standpipe_job::said::Lack;

use super::steps::{StepView, results};
use crate::mentions;
use crate::shown::{Named, person};
use standpipe_diagnostic::source::Place;
use standpipe_job::{Address, Event, Machine, Record, State};
use standpipe_quantity::value::Value;

/// A fact of the family that a step was judged or done by.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Required {
    #[serde(flatten)]
    pub named: Named,
    pub from: Option<String>,
    pub place: Option<Place>,
    /// Entered during the job, because nobody had before.
    pub supplied: bool,
}

/// What was read, seen or said.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Read {
    #[serde(flatten)]
    pub named: Named,
    pub typed: Option<String>,
    #[schemars(with = "String")]
    pub at: Moment,
    pub by: String,
    pub with: Option<String>,
    #[schemars(with = "String")]
    pub address: Address,
    pub corrected: bool,
    /// Something ended it later; it was asked again.
    pub ended: bool,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Computed {
    pub name: String,
    pub results: Vec<Named>,
    pub sheet: Option<String>,
    /// Where its formula was published.
    pub from: Option<String>,
    pub inputs: Vec<Named>,
    #[schemars(with = "String")]
    pub address: Address,
    /// Why there is no result.
    pub missing: Vec<String>,
    pub warnings: Vec<String>,
    /// Computed again after a correction.
    pub again: bool,
}

/// Taken on somebody's word, or because nothing else was said.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Assumed {
    #[serde(flatten)]
    pub named: Named,
    pub why: String,
}

pub(super) fn required(machine: &Machine, state: &State, steps: &[StepView]) -> Vec<Required> {
    let plan = &machine.plan;
    let mut paths: IndexSet<String> = IndexSet::new();
    for step in steps.iter().filter(|step| !step.deeds.is_empty()) {
        if let Some(step) = plan.step(&step.address.step) {
            paths.extend(mentions::facts(plan, step));
        }
    }
    let values = plan.facts(state.variant.as_deref(), &state.supplied);
    let known = plan.family.known(state.variant.as_deref());
    let mut required = Vec::new();
    for path in paths.iter().filter_map(|path| path.strip_prefix("spec.")) {
        let parts: Vec<&str> = path.split('.').collect();
        let Some(value) = values.at(&parts) else { continue };
        for named in results(plan, path, value) {
            let supplied = state.supplied.contains_key(&format!("spec.{}", named.name));
            let origin = known.origin(&named.name).filter(|_| !supplied);
            required.push(Required {
                from: origin.and_then(|origin| origin.source.as_ref()).map(|note| note.from.clone()),
                place: origin.map(|origin| origin.place.clone()),
                supplied,
                named,
            });
        }
    }
    let mut seen = IndexSet::new();
    required.retain(|required| !required.named.value.is_unknown() && seen.insert(required.named.name.clone()));
    required
}

/// Measured values, and what was only seen or said. Of several tries at one place the last one stands.
pub(super) fn read(machine: &Machine, records: &[Record], state: &State) -> (Vec<Read>, Vec<Read>) {
    let plan = &machine.plan;
    let mut typed: IndexMap<(u64, &str), (&str, bool)> = IndexMap::new();
    for record in records {
        let (entry, texts, corrected) = match &record.event {
            Event::Entered { typed, .. } => (record.seq, typed, false),
            Event::Corrected { entry, typed, .. } => (*entry, typed, true),
            _ => continue,
        };
        for (name, text) in texts {
            typed.insert((entry, name), (text, corrected));
        }
    }
    let by: IndexMap<u64, &str> = records.iter().map(|record| (record.seq, record.by.as_str())).collect();
    let mut latest: IndexMap<(String, Address), Read> = IndexMap::new();
    for reading in state.readings.iter().filter(|reading| !reading.computed) {
        let (text, corrected) = typed.get(&(reading.seq, reading.name.as_str())).copied().unwrap_or_default();
        let read = Read {
            named: Named::new(plan, &reading.name, &reading.value),
            typed: (!text.is_empty()).then(|| text.to_owned()),
            at: reading.at,
            by: person(plan, by.get(&reading.seq).copied().unwrap_or_default()),
            with: reading
                .with
                .as_ref()
                .and_then(|id| crate::shown::with(plan, &reading.address.step, (&reading.name, &reading.value), id)),
            address: reading.address.clone(),
            corrected,
            ended: reading.ended,
        };
        latest.insert((reading.name.clone(), reading.address.clone()), read);
    }
    // Nobody read what was taken from the shop file.
    let is_taken = |read: &Read| read.with.is_some() && plan.scale_end(&read.address.step, &read.named.name).is_some();
    let is_measured = |read: &Read| {
        matches!(read.named.value, Value::Quantity(_) | Value::Number(_) | Value::Range(..)) && !is_taken(read)
    };
    latest.into_values().partition(is_measured)
}

pub(super) fn computed(machine: &Machine, records: &[Record], state: &State) -> Vec<Computed> {
    let plan = &machine.plan;
    let replaced: IndexSet<u64> = records
        .iter()
        .filter_map(|record| match &record.event {
            Event::Computed { supersedes, .. } => *supersedes,
            _ => None,
        })
        .collect();
    // A second replacement names the first event again, so only the last one for it stands.
    let mut standing: IndexMap<u64, &Record> = IndexMap::new();
    for record in records {
        if let Event::Computed { supersedes, .. } = &record.event {
            standing.insert(supersedes.unwrap_or(record.seq), record);
        }
    }
    let mut computed = Vec::new();
    for (first, record) in standing {
        let Event::Computed { address, gives: Some(name), sheet, inputs, value, missing, warnings, .. } = &record.event
        else {
            continue;
        };
        // Of several rounds all stand; of one place computed twice, only the last.
        let is_latest = !state
            .readings
            .iter()
            .any(|later| later.computed && later.name == *name && later.address == *address && later.seq > first);
        if !is_latest {
            continue;
        }
        computed.push(Computed {
            name: name.clone(),
            results: results(plan, name, value),
            from: sheet.as_ref().and_then(|id| plan.sheets.get(id.as_str())).map(|sheet| sheet.source.clone()),
            sheet: sheet.clone(),
            inputs: inputs.iter().filter(|(name, _)| !name.is_empty()).map(|(n, v)| Named::new(plan, n, v)).collect(),
            address: address.clone(),
            missing: missing.iter().map(Lack::to_string).collect(),
            warnings: warnings.clone(),
            again: replaced.contains(&first),
        });
    }
    computed
}

pub(super) fn assumed(machine: &Machine, records: &[Record], state: &State) -> Vec<Assumed> {
    let plan = &machine.plan;
    let mut assumed = Vec::new();
    let facts = plan.job_facts(&state.supplied);
    for path in plan.form.job.keys() {
        let parts: Vec<&str> = path.split('.').collect();
        if let Some(value) = facts.at(&parts).filter(|value| !value.is_unknown()) {
            assumed.push(Assumed { named: Named::new(plan, path, value), why: "told at booking".to_owned() });
        }
    }
    // An end of a scale that nobody needs to have read; of several tries at one place the last one stands.
    let mut ends: IndexMap<(&str, &Address), Option<Assumed>> = IndexMap::new();
    for it in state.readings.iter().filter(|it| !it.computed) {
        let why = it.with.as_ref().filter(|_| plan.measured_with(it).is_none());
        let why = why.and_then(|id| crate::shown::with(plan, &it.address.step, (&it.name, &it.value), id));
        let assumed = why.map(|why| Assumed { named: Named::new(plan, &it.name, &it.value), why });
        ends.insert((&it.name, &it.address), assumed);
    }
    assumed.extend(ends.into_values().flatten());
    for (id, sheet) in &plan.sheets {
        let calls = records.iter().filter_map(|record| match &record.event {
            Event::Computed { sheet: Some(called), inputs, .. } if called == id => Some(inputs),
            _ => None,
        });
        let calls: Vec<_> = calls.collect();
        for (name, input) in &sheet.inputs {
            if let Some(default) = &input.default
                && calls.iter().any(|inputs| !inputs.contains_key(name))
            {
                let why = format!("taken by the sheet {id} where nothing is given");
                assumed.push(Assumed { named: Named::new(plan, name, default), why });
            }
        }
    }
    assumed
}
