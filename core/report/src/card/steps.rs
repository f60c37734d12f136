//! The steps of a card, in order, with their gates.

use super::{Gate, Step};
use crate::shown::words;
use standpipe_job::State;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_procedure::{Evidence, Otherwise, Template};

/// Fills what the plan knows; what is only read on the job keeps its name.
pub(super) fn fill(names: &JobNames<'_>, template: &Template) -> String {
    template.fill(|path| match path.first().map(String::as_str) {
        Some("spec" | "job" | "shop") => match names.path(path) {
            Some(value) if !value.is_unknown() => names.show(path),
            _ => format!("({}: unknown)", words(&path[1..].join("."))),
        },
        _ => format!("({})", words(&path.join("."))),
    })
}

pub(super) fn steps(plan: &Plan, state: &State) -> Vec<Step> {
    let names = JobNames::new(plan, state, Default::default(), 1);
    let described = plan.order().iter().enumerate().filter_map(|(index, id)| {
        let step = plan.step(id)?;
        Some(Step {
            number: index + 1,
            id: id.clone(),
            section: plan.procedure_of(id).map(|procedure| procedure.title.clone()).unwrap_or_default(),
            title: fill(&names, &step.title),
            kind: step.kind.word(),
            summary: step.kind.summary(),
            when: step.when.as_ref().map(|when| one_line(when.text())),
            most_rounds: plan.most_rounds(id),
            gate: step.gate.as_ref().map(|gate| Gate {
                must: one_line(&gate.words()),
                otherwise: gate.otherwise.words(),
                at_stake: gate.at_stake.as_ref().map(|text| fill(&names, text)),
            }),
            witness: step.witness.as_ref().map(|text| fill(&names, text)),
            evidence: step.evidence.map(Evidence::words),
            keep: step.keep,
            changed: step.marks.clone(),
        })
    });
    described.collect()
}

/// What stops a job is graver than what someone may accept, and that graver than what is only asked again; in the order of
/// work otherwise.
pub(super) fn gates(plan: &Plan) -> Vec<usize> {
    let gravity = |otherwise: &Otherwise| match otherwise {
        Otherwise::Stop => 0,
        Otherwise::NextRound => 1,
        Otherwise::Ask(_) => 2,
        Otherwise::Wait(_) => 3,
    };
    let steps = plan.order().iter().enumerate().filter_map(|(index, id)| Some((index, plan.step(id)?)));
    let mut gates: Vec<_> = steps
        .filter_map(|(index, step)| Some((gravity(&step.gate.as_ref()?.otherwise), !step.keep, index + 1)))
        .collect();
    gates.sort_unstable();
    gates.into_iter().map(|(_, _, number)| number).collect()
}

pub(super) fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

pub(super) fn subject_of(plan: &Plan) -> String {
    plan.subject(&Default::default())
}
