//! From a plan to its card.

use indexmap::IndexMap;

use super::steps::{gates, steps, subject_of};
use super::{
    CardView, Caution, Fact, ForVariant, Group, Instrument, Owned, Person, SCHEMA, Seen, Sign, Titled, Unknown, Variant,
};
use crate::history::Earlier;
use crate::shown::{Named, show, show_both, words};
use crate::{NOTICE, block, mentions, picture};
use standpipe_form::Facts;
use standpipe_job::State;
use standpipe_job::plan::Plan;
use standpipe_procedure::FieldKind;
use standpipe_quantity::value::Value;

/// `earlier`: what finished jobs told, where somebody looked.
pub fn view(plan: &Plan, earlier: &Earlier) -> CardView {
    let state = State { variant: plan.job.variant.clone(), ..State::default() };
    let facts = plan.family.known(plan.job.variant.as_deref());
    let main = plan.main();
    CardView {
        schema: SCHEMA,
        notice: NOTICE,
        invented: plan.invented,
        simulated: plan.simulated().cloned(),
        job: Some(plan.job.id.clone()),
        subject: subject_of(plan),
        told: told(plan),
        family: Titled {
            id: plan.family.id.clone(),
            title: plan.family.title.clone().unwrap_or_else(|| plan.family.id.clone()),
        },
        procedure: Titled { id: main.id.value.clone(), title: main.title.clone() },
        variant: variant(plan),
        unknown: unknown(plan, &state, facts),
        cautions: cautions(plan),
        instruments: instruments(plan),
        people: people(plan),
        facts: groups(plan, facts),
        steps: steps(plan, &state),
        gates: gates(plan),
        blocks: block::for_card(plan, earlier),
        pictures: picture::for_card(plan),
        reachable: main
            .reachable
            .iter()
            .filter_map(|id| plan.procedure(id.as_str()))
            .map(|procedure| Titled { id: procedure.id.value.clone(), title: procedure.title.clone() })
            .collect(),
        changed: plan.overlaid(),
        plan: plan.hash.clone(),
    }
}

/// What the job file says, as far as it is known.
fn told(plan: &Plan) -> Vec<Named> {
    let mut told = Vec::new();
    for path in plan.form.job.keys() {
        let parts: Vec<&str> = path.split('.').collect();
        if let Some(value) = plan.job.facts.at(&parts).filter(|value| !value.is_unknown()) {
            told.push(Named::new(plan, path, value));
        }
    }
    told
}

fn variant(plan: &Plan) -> Variant {
    let mut signs: IndexMap<&str, Sign> = IndexMap::new();
    for (id, variant) in &plan.family.variants {
        for (sign, value) in &variant.signs {
            let ask = || plan.sign_question(sign).unwrap_or_else(|| words(sign));
            let known = signs.entry(sign).or_insert_with(|| Sign { ask: ask(), seen: Vec::new() });
            known.seen.push(Seen { looks: value.words(), variant: id.clone() });
        }
    }
    Variant { settled: plan.job.variant.clone(), signs: signs.into_values().collect() }
}

/// Numbers of the steps for which something holds.
fn where_to<T: Clone + Eq + std::hash::Hash>(
    plan: &Plan,
    of: impl Fn(&standpipe_procedure::Step) -> Vec<T>,
) -> IndexMap<T, Vec<usize>> {
    let mut found: IndexMap<T, Vec<usize>> = IndexMap::new();
    for (index, id) in plan.order().iter().enumerate() {
        let Some(step) = plan.step(id) else { continue };
        for thing in of(step) {
            let numbers = found.entry(thing).or_default();
            if numbers.last() != Some(&(index + 1)) {
                numbers.push(index + 1);
            }
        }
    }
    found
}

fn unknown(plan: &Plan, state: &State, facts: &Facts) -> Vec<Unknown> {
    let names = block::as_entered(plan, state);
    // A step that the family is not taken through needs nothing.
    let mentioned = where_to(plan, |step| match block::leaves_out(plan, &names, step) {
        true => Vec::new(),
        false => mentions::facts(plan, step).into_iter().collect(),
    });
    let mut unknown: Vec<Unknown> = facts
        .leaves()
        .into_iter()
        .filter(|(_, value)| value.is_unknown())
        .map(|(path, _)| Unknown {
            ask: plan.form.field(&path).and_then(|field| field.ask.clone()),
            steps: mentioned.get(&format!("spec.{path}")).cloned().unwrap_or_default(),
            by_variant: by_variant(plan, facts, &path),
            path,
        })
        .collect();
    // What holds a step up comes first; the order is that of the form otherwise.
    unknown.sort_by_key(|unknown| unknown.steps.first().copied().unwrap_or(usize::MAX));
    unknown
}

/// A value that only the variant settles, for each of them.
fn by_variant(plan: &Plan, facts: &Facts, path: &str) -> Vec<ForVariant> {
    if !facts.differs_by_variant(path) {
        return Vec::new();
    }
    let known = plan.family.variants.iter().filter_map(|(id, variant)| Some((id, variant.facts.value(path)?)));
    known
        .map(|(id, value)| ForVariant { variant: id.clone(), shown: show_both(plan, value), value: value.clone() })
        .collect()
}

fn cautions(plan: &Plan) -> Vec<Caution> {
    where_to(plan, |step| step.caution.iter().filter_map(|id| plan.caution(id)).collect())
        .into_iter()
        .map(|(text, steps)| Caution { text, steps })
        .collect()
}

fn instruments(plan: &Plan) -> Vec<Instrument> {
    let kinds = where_to(plan, |step| {
        step.kind.fields().iter().filter_map(|field| field.instrument.as_ref()).map(|kind| kind.value.clone()).collect()
    });
    kinds
        .into_iter()
        .map(|(kind, steps)| {
            let owned = plan.shop.instruments.iter().filter(|(_, instrument)| instrument.kind == kind);
            let shop = owned
                .map(|(id, instrument)| Owned {
                    id: id.clone(),
                    range: instrument
                        .range
                        .as_ref()
                        .map(|(low, high)| show(plan, &Value::Range(low.clone(), high.clone()))),
                    accuracy: instrument.accuracy.as_ref().map(|accuracy| accuracy.words()),
                    due: instrument.due,
                })
                .collect();
            Instrument { kind, steps, shop }
        })
        .collect()
}

fn people(plan: &Plan) -> Vec<Person> {
    let wanted = where_to(plan, |step| {
        let mut wanted = Vec::new();
        if step.witness.is_some() {
            wanted.push("a second person, who looks at once".to_owned());
        }
        for field in step.kind.fields() {
            match (&field.kind, &field.other_than) {
                (FieldKind::Signature(role), Some(_)) => wanted.push(format!("a {role} who did not do the work")),
                (FieldKind::Signature(role), None) => wanted.push(format!("a {role} who signs")),
                (FieldKind::Person, Some(_)) => wanted.push("a second person, named".to_owned()),
                _ => {}
            }
        }
        wanted
    });
    wanted.into_iter().map(|(wanted, steps)| Person { wanted, steps }).collect()
}

fn groups(plan: &Plan, facts: &Facts) -> Vec<Group> {
    let mut groups: IndexMap<String, Vec<Fact>> = IndexMap::new();
    for (path, value) in facts.leaves() {
        if value.is_unknown() {
            continue;
        }
        let origin = facts.origin(&path);
        let from = origin.and_then(|origin| origin.source.as_ref()).map(|note| {
            let by = note.entered_by.as_ref().map(|by| format!(", entered by {by}")).unwrap_or_default();
            let checked = note.checked_by.as_ref().map(|by| format!(", checked by {by}")).unwrap_or_default();
            format!("{}{by}{checked}", note.from)
        });
        let group = path.split('.').next().unwrap_or_default().to_owned();
        groups.entry(group).or_default().push(Fact {
            shown: show_both(plan, value),
            value: value.clone(),
            from,
            place: origin.map(|origin| origin.place.clone()),
            path,
        });
    }
    groups.into_iter().map(|(name, facts)| Group { name, facts }).collect()
}
