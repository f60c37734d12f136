//! From what a procedure asks for to what is known.

use std::borrow::Cow;

use indexmap::IndexMap;

use super::earlier::{Told, intervals};
use super::{Answer, Block, Computed, Fact, OnScale, Part, Rows, Said, Setting, Shown};
use crate::history::Earlier;
use crate::record::StepView;
use crate::shown::{Named, show, show_both, words};
use standpipe_form::snake;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{Machine, State};
use standpipe_procedure::page::{self, Call, Settings};
use standpipe_procedure::{Children, Expr, Procedure, Step, Template};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity};
use standpipe_script::{Fault, Names};

/// Procedures whose steps the job goes through, in that order; not those that what is known takes it past.
pub(crate) fn on_the_way<'a>(plan: &'a Plan, names: &JobNames<'_>) -> Vec<&'a Procedure> {
    let mut found = Vec::new();
    gather(plan, plan.main(), names, &mut found);
    found
}

fn gather<'a>(plan: &'a Plan, procedure: &'a Procedure, names: &JobNames<'_>, found: &mut Vec<&'a Procedure>) {
    if found.iter().any(|known| known.id.value == procedure.id.value) {
        return;
    }
    found.push(procedure);
    for step in procedure.all_steps() {
        let Children::Procedure(id) = step.kind.children() else { continue };
        if !leaves_out(plan, names, step)
            && let Some(within) = plan.procedure(id.as_str())
        {
            gather(plan, within, names, found);
        }
    }
}

/// Whether what is known takes the job past a step.
pub(crate) fn leaves_out(plan: &Plan, names: &JobNames<'_>, step: &Step) -> bool {
    let is_past = |when: &Expr| matches!(when.evaluate(&plan.scripts, names), Ok(Value::Truth(false)));
    step.when.as_ref().is_some_and(is_past)
}

/// Everything as it was last entered: a record tells what was read, even if it has grown old since.
pub(crate) fn as_entered<'a>(plan: &'a Plan, state: &'a State) -> JobNames<'a> {
    JobNames::in_the_end(plan, state)
}

pub fn for_card(plan: &Plan, earlier: &Earlier) -> Vec<Block> {
    let state = State { variant: plan.job.variant.clone(), ..State::default() };
    let procedures = on_the_way(plan, &as_entered(plan, &state));
    let blocks =
        procedures.into_iter().flat_map(|procedure| procedure.card.iter().map(move |block| (procedure, block)));
    let variants: Vec<Option<String>> = match &plan.job.variant {
        Some(variant) => vec![Some(variant.clone())],
        None if plan.family.variants.is_empty() => vec![None],
        None => plan.family.variants.keys().cloned().map(Some).collect(),
    };
    blocks
        .map(|(procedure, block)| {
            let mut parts: Vec<Part> = Vec::new();
            for variant in &variants {
                let state = State { variant: variant.clone(), ..State::default() };
                let names = as_entered(plan, &state);
                let mut part = part(plan, block, &names, variant.as_deref());
                if let Some(call) = block.compute.as_ref().filter(|call| !call.earlier.is_empty()) {
                    let told = Told { earlier, procedure, variant: variant.as_deref() };
                    part.computed = Some(computed(plan, &names, call, Some(&told)));
                }
                parts.push(part);
            }
            let alike = |part: &Part| serde_json::to_string(part).ok();
            let first = parts.first().and_then(alike);
            if parts.iter().all(|part| alike(part) == first) {
                parts.truncate(1);
            } else {
                for (part, variant) in parts.iter_mut().zip(&variants) {
                    part.variant.clone_from(variant);
                }
            }
            Block { title: block.title.value.clone(), parts, for_customer: false }
        })
        .collect()
}

pub fn for_record(machine: &Machine, state: &State, steps: &[StepView]) -> Vec<Block> {
    let plan = &machine.plan;
    let names = as_entered(plan, state);
    let blocks = on_the_way(plan, &names).into_iter().flat_map(|procedure| &procedure.record);
    blocks
        .map(|block| {
            let mut part = part(plan, block, &names, state.variant.as_deref());
            part.shown_by = block.shown_by.iter().map(|id| Shown::of(machine, state, steps, id)).collect();
            let at = |answer: &page::Answer| {
                let by = block.shown_by.iter().position(|id| id.value == answer.step.value);
                by.and_then(|by| part.shown_by.get(by)?.at)
            };
            part.answer = block.answer.as_ref().map(|it| Answer::new(plan, state, it, &part.shown_by, at(it)));
            Block { title: block.title.value.clone(), parts: vec![part], for_customer: block.for_customer }
        })
        .collect()
}

fn part(plan: &Plan, block: &page::Block, names: &JobNames<'_>, variant: Option<&str>) -> Part {
    Part {
        variant: None,
        said: block.say.iter().map(|text| said(plan, names, text)).collect(),
        facts: block.facts.iter().filter_map(|path| fact(plan, path, variant)).collect(),
        computed: block.compute.as_ref().map(|call| computed(plan, names, call, None)),
        settings: block.settings.as_ref().map(|of| settings(plan, of, variant)).unwrap_or_default(),
        shown_by: Vec::new(),
        answer: None,
    }
}

pub(crate) fn said(plan: &Plan, names: &JobNames<'_>, text: &Template) -> Said {
    let mut missing = Vec::new();
    let text = text.fill(|path| match names.path(path) {
        Some(value) if !value.is_unknown() => show(plan, &value),
        _ => {
            let whole = path.join(".");
            let name = words(whole.strip_prefix("spec.").unwrap_or(&whole));
            let gap = format!("({name}: not known)");
            missing.push(name);
            gap
        }
    });
    Said { text, missing }
}

/// Nothing where a field may stay empty and does.
fn fact(plan: &Plan, path: &str, variant: Option<&str>) -> Option<Fact> {
    let path = snake(path);
    let known = plan.family.known(variant);
    let shown = match known.value(&path)? {
        Value::Unknown => Vec::new(),
        Value::List(items) => items.iter().map(|item| show(plan, item)).collect(),
        value => vec![show(plan, value)],
    };
    Some(Fact { name: words(&path), shown })
}

/// A sheet with its inputs from expressions; what it lacks, or what is wrong.
pub(crate) fn inputs(plan: &Plan, names: &dyn Names, call: &Call) -> Result<IndexMap<String, Value>, Vec<String>> {
    let (inputs, missing) = known(plan, names, call);
    if missing.is_empty() { Ok(inputs) } else { Err(missing.into_values().flatten().collect()) }
}

/// Inputs that are known, and what the others lack.
pub(super) fn known(
    plan: &Plan,
    names: &dyn Names,
    call: &Call,
) -> (IndexMap<String, Value>, IndexMap<String, Vec<String>>) {
    let (mut inputs, mut missing) = (IndexMap::new(), IndexMap::new());
    for (name, expr) in &call.with {
        match expr.evaluate(&plan.scripts, names) {
            Ok(Value::Unknown) => {
                missing.insert(name.clone(), vec![words(name)]);
            }
            Ok(value) => {
                inputs.insert(name.clone(), value);
            }
            Err(fault) => {
                missing.insert(name.clone(), lacks(fault));
            }
        }
    }
    (inputs, missing)
}

pub(crate) fn lacks(fault: Fault) -> Vec<String> {
    match fault {
        Fault::NotShown(names) => names.iter().map(|name| words(name.strip_prefix("spec.").unwrap_or(name))).collect(),
        Fault::Failed(problem) => vec![problem.message.clone()],
    }
}

fn computed(plan: &Plan, names: &JobNames<'_>, call: &Call, told: Option<&Told<'_>>) -> Computed {
    let sheet = plan.sheets.get(call.sheet.as_str());
    let mut view = Computed {
        sheet: call.sheet.value.clone(),
        title: sheet.map(|sheet| sheet.title.clone()).unwrap_or_default(),
        from: sheet.map(|sheet| sheet.source.clone()).unwrap_or_default(),
        results: Vec::new(),
        tables: Vec::new(),
        missing: Vec::new(),
        warnings: Vec::new(),
        earlier: Vec::new(),
    };
    let (mut inputs, mut missing) = known(plan, names, call);
    if let Some(told) = told {
        view.earlier = told.add(plan, call, &mut inputs, &mut missing);
    }
    let ranges = match sheet {
        Some(sheet) if missing.is_empty() => intervals(plan, sheet, &inputs, &view.earlier),
        _ => IndexMap::new(),
    };
    let outcome = match sheet {
        _ if !missing.is_empty() => Err(missing.into_values().flatten().collect()),
        Some(sheet) => sheet.run(&plan.scripts, inputs).map_err(lacks),
        None => Err(vec![call.sheet.value.clone()]),
    };
    let outcome = match outcome {
        Ok(outcome) => outcome,
        Err(missing) => {
            view.missing = missing;
            return view;
        }
    };
    view.warnings = outcome.warnings;
    let is_shown = |name: &str| call.shows.is_empty() || call.shows.iter().any(|shown| shown.as_str() == name);
    for (name, value) in outcome.outputs.iter().filter(|(name, _)| is_shown(name)) {
        match rows(plan, value) {
            Some(rows) => view.tables.push(rows),
            None => {
                if let (Some((low, high)), Value::Quantity(quantity)) = (ranges.get(name), value)
                    && let Some(told) = view.earlier.iter_mut().rfind(|earlier| earlier.used)
                {
                    // By that alone: what else was entered may be off as well.
                    let end = |si: f64| Quantity { si, written: None, ..quantity.clone() };
                    let range = show(plan, &Value::Range(end(*low), end(*high)));
                    told.text.push_str(&format!(" That alone leaves {} within {range} (95 %).", words(name)));
                }
                view.results.push(Named::new(plan, name, value));
            }
        }
    }
    view
}

fn rows(plan: &Plan, value: &Value) -> Option<Rows> {
    let Value::List(items) = value else { return None };
    let mut table = Rows::default();
    for item in items {
        let Value::Record(cells) = item else { return None };
        if table.head.is_empty() {
            table.head = cells.keys().map(|name| words(name)).collect();
        }
        table.rows.push(cells.values().map(|cell| show(plan, cell)).collect());
    }
    (!table.head.is_empty()).then_some(table)
}

fn settings(plan: &Plan, of: &Settings, variant: Option<&str>) -> Vec<Setting> {
    let known = plan.family.known(variant);
    let of_quantity = |value: &Value| match value {
        Value::Quantity(quantity) if quantity.of.as_deref() == Some(of.quantity.as_str()) => Some(quantity.clone()),
        _ => None,
    };
    let leaves = known.leaves();
    let values = leaves.iter().filter_map(|(path, value)| Some((path, value, of_quantity(value)?)));
    values
        .map(|(path, value, quantity)| {
            let instruments = plan.shop.instruments.iter().filter(|(_, it)| it.kind == of.instrument.as_str());
            let on = instruments.map(|(id, it)| {
                let reached =
                    it.range.as_ref().is_none_or(|(low, high)| low.si <= quantity.si && quantity.si <= high.si);
                let style = plan.shop.style.with(Purpose::Setting { resolution: it.resolution.clone() });
                let own = it.unit.as_ref().and_then(|unit| plan.units.show_in(&quantity, unit, &style));
                OnScale {
                    instrument: it.title.clone().unwrap_or_else(|| words(id)),
                    set: own.filter(|_| reached),
                    range: it.range.as_ref().map(|(low, high)| {
                        let in_own = it.unit.as_ref().and_then(|unit| {
                            let end = |end| plan.units.figure(end, unit, &Purpose::Reading);
                            Some(format!("{}..{} {unit}", end(low)?, end(high)?))
                        });
                        in_own.unwrap_or_else(|| show(plan, &Value::Range(low.clone(), high.clone())))
                    }),
                }
            });
            Setting {
                on: on.collect(),
                required: show_both(plan, value),
                name: setting_name(path, of.quantity.as_str()),
            }
        })
        .collect()
}

/// `parts.lid.weight` of the quantity `weight` is the setting of `lid`.
fn setting_name(path: &str, quantity: &str) -> String {
    let short: Cow<'_, str> = match path.split('.').collect::<Vec<_>>().as_slice() {
        [_, middle @ .., last] if *last == quantity && !middle.is_empty() => middle.join(" ").into(),
        _ => path.into(),
    };
    words(&short)
}
