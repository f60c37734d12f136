//! How a job came out, in two lines that can be read aloud, and what it left open.

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::marks::Marks;
use super::steps::{StepView, What};
use crate::shown::{and, count, minute, person};
use standpipe_job::{Event, Machine, Pending, Phase, Record, State, Verdict, Witness};

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Outcome {
    /// `finished`, `stopped`, `paused`, `abandoned`, or that it is under way.
    pub state: &'static str,
    pub lines: [String; 2],
    #[schemars(with = "Option<String>")]
    pub begun: Option<Moment>,
    pub gates_met: usize,
    pub gates_not_met: usize,
    pub gates_not_shown: usize,
    /// Of those that were not met or not shown.
    pub gates_accepted: usize,
}

pub(super) fn outcome(
    machine: &Machine,
    records: &[Record],
    state: &State,
    pending: &Pending,
    marks: &Marks,
) -> Outcome {
    let plan = &machine.plan;
    let standing = || state.verdicts.iter().filter(|passed| !passed.superseded);
    let tally = |verdict| standing().filter(|passed| passed.verdict == verdict).count();
    let begun = records.iter().find(|record| matches!(record.event, Event::Opened { .. })).map(|record| record.at);
    let people: Vec<String> = state.doers.iter().map(|id| person(plan, id)).collect();
    let word = if pending.is_held() && state.is_open() { "stopped" } else { state.phase.words() };
    let mut outcome = Outcome {
        state: word,
        lines: Default::default(),
        begun,
        gates_met: tally(Verdict::Met),
        gates_not_met: tally(Verdict::NotMet),
        gates_not_shown: tally(Verdict::NotShown),
        gates_accepted: standing().filter(|passed| passed.accepted).count(),
    };
    outcome.lines = [first(&outcome, state, pending, marks, &people), second(&outcome, marks)];
    outcome
}

fn first(outcome: &Outcome, state: &State, pending: &Pending, marks: &Marks, people: &[String]) -> String {
    let at = state.at.map(minute).unwrap_or_default();
    // A name may end in a stop of its own.
    let who = and(people).trim_end_matches('.').to_owned();
    let stands = stands(pending);
    match &state.phase {
        Phase::Finished => {
            let begun = outcome.begun.map(minute).unwrap_or_default();
            format!("Finished on {at}, begun on {begun}, done by {who}.")
        }
        Phase::Abandoned => {
            let because = marks.abandoned.as_deref().unwrap_or("no reason is recorded");
            format!("Ended unfinished on {at}: {because}.")
        }
        Phase::Paused => format!("Not finished: paused on {at}, done so far by {who}."),
        Phase::New => "Not begun.".to_owned(),
        _ if outcome.state == "stopped" => format!("Not finished: stopped on {at} at \"{stands}\"."),
        _ => format!("Not finished: on {at} it stood at \"{stands}\", done so far by {who}."),
    }
}

fn second(outcome: &Outcome, marks: &Marks) -> String {
    let mut parts = vec![format!("{} met", count(outcome.gates_met, "gate"))];
    if outcome.gates_not_met > 0 {
        parts.push(format!("{} NOT MET", outcome.gates_not_met));
    }
    if outcome.gates_not_shown > 0 {
        parts.push(format!("{} NOT SHOWN", outcome.gates_not_shown));
    }
    if outcome.gates_accepted > 0 {
        let by: Vec<String> = marks.accepted.iter().map(|accepted| accepted.by.clone()).collect();
        let by = indexmap::IndexSet::<String>::from_iter(by).into_iter().collect::<Vec<_>>();
        parts.push(format!("{} of these accepted by {}", outcome.gates_accepted, and(&by)));
    }
    for (number, what) in [
        (marks.skipped.len(), "step"),
        (marks.corrections.len(), "correction"),
        (marks.supplied.len(), "supplied value"),
        (marks.amended.len(), "data correction"),
        (marks.calls.len(), "call"),
    ] {
        if number > 0 {
            parts.push(format!("{}{}", count(number, what), if what == "step" { " left out" } else { "" }));
        }
    }
    format!("{}.", parts.join(", ").trim_end_matches('.'))
}

fn stands(pending: &Pending) -> String {
    match pending {
        Pending::Entry(prompt) => prompt.title.clone(),
        Pending::Acceptance { title, .. } | Pending::Stopped { title, .. } | Pending::Facts { title, .. } => {
            title.clone()
        }
        Pending::Fault { message, .. } => format!("a fault of the plan: {message}"),
        Pending::Opening | Pending::Resumption { .. } | Pending::Nothing { .. } => String::new(),
    }
}

/// What somebody still has to do, or to know.
pub(super) fn left_open(machine: &Machine, state: &State, pending: &Pending, steps: &[StepView]) -> Vec<String> {
    let plan = &machine.plan;
    let mut open = Vec::new();
    let waits_at = match pending {
        Pending::Acceptance { address, .. } | Pending::Stopped { address, .. } => Some(address),
        _ => None,
    };
    match pending {
        Pending::Entry(prompt) => open.push(format!("{} ({})", prompt.title, prompt.asks)),
        Pending::Acceptance { title, because, roles, .. } => {
            let because = because.trim_end_matches('.');
            open.push(format!("{title}: {because}; to be accepted by {}", roles.join(" or ")));
        }
        Pending::Stopped { title, because, .. } => open.push(format!("{title}: {because}")),
        Pending::Facts { title, missing, .. } => open.push(format!("{title}: unknown {}", missing.join(", "))),
        Pending::Fault { message, place, .. } => open.push(format!("the plan has a fault: {message} ({place})")),
        Pending::Resumption { tag } => open.extend(tag.iter().cloned()),
        Pending::Opening | Pending::Nothing { .. } => {}
    }
    if state.is_open() && state.variant.is_none() && plan.family.variants.len() > 1 {
        open.push("the variant is not settled".to_owned());
    }
    for step in steps {
        let at = || format!("{} ({})", step.title, step.address);
        if step.status == "left out" {
            let what = if step.kind == "sign" { "no signature, not shown" } else { "left out" };
            open.push(format!("{what}: {}", at()));
        }
        for deed in &step.deeds {
            if let What::Entered { witness: Some(Witness::Alone), .. } = &deed.what {
                open.push(format!("witness not shown, a one-person shop: {}", at()));
            }
        }
        match step.verdict {
            Some(verdict @ (Verdict::NotMet | Verdict::NotShown)) if waits_at != Some(&step.address) => {
                let accepted = if step.accepted { ", accepted" } else { "" };
                open.push(format!("{}{accepted}: {}", verdict.words(), at()));
            }
            _ => {}
        }
    }
    open
}
