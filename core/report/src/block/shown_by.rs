//! What a step that shows something came to: in every round that it was come to, and whether another is due.

use std::cmp::Reverse;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::answer::{Lack, lack};
use super::collect::as_entered;
use crate::record::{StepView, What};
use crate::shown::words;
use standpipe_job::plan::Plan;
use standpipe_job::{Address, Machine, State, Verdict, Witness};
use standpipe_quantity::value::Value;

/// A step that shows it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Shown {
    pub number: Option<usize>,
    pub title: String,
    pub verdict: Option<Verdict>,
    pub accepted: bool,
    /// `done`, `left out`, `not needed`, `open`; `not come to` if the job never did, `due again` if its round counts no more.
    pub status: String,
    /// What was entered and found there.
    pub found: Vec<String>,
    #[schemars(with = "Option<String>")]
    pub at: Option<Moment>,
    pub by: String,
    pub witness: Option<String>,
    pub tries: usize,
    /// It was come to in so many rounds, and this tells of which: the worst of them, or else the last.
    pub rounds: usize,
    pub round: usize,
}

impl Shown {
    /// One bad round is not made good by a later one: each container has a label of its own.
    pub(super) fn of(machine: &Machine, state: &State, steps: &[StepView], id: &str) -> Self {
        let come_to = || steps.iter().filter(|step| step.address.step == id);
        let Some(last) = come_to().next_back() else {
            return Self::not_come_to(machine, state, id);
        };
        let needed: Vec<&StepView> = come_to().filter(|step| step.status != "not needed").collect();
        if needed.is_empty() {
            return Self::told(last);
        }
        let mut told: Vec<Self> = needed.into_iter().map(Self::told).collect();
        let rounds = told.len();
        if is_due_again(&machine.plan, state, &last.address) {
            let last = &mut told[rounds - 1];
            (last.verdict, last.accepted, last.status) = (None, false, "due again".to_owned());
        }
        for (index, one) in told.iter_mut().enumerate() {
            (one.rounds, one.round) = (rounds, index + 1);
        }
        // A round that broke off before the step was done has been made good by the next.
        let weight = |one: &Self| match lack(one).map(|against| against.lack) {
            Some(Lack::Undone) if one.round < rounds => None,
            weight => weight.map(Reverse),
        };
        // Of equals the last.
        told.into_iter().max_by_key(weight).expect("one of them at least is needed")
    }

    fn not_come_to(machine: &Machine, state: &State, id: &str) -> Self {
        let plan = &machine.plan;
        let names = as_entered(plan, state);
        let (number, _) = plan.position(id);
        Self {
            number: (number > 0).then_some(number),
            title: plan.step(id).map_or_else(|| id.to_owned(), |step| machine.title(step, &names)),
            verdict: None,
            accepted: false,
            status: if plan.step(id).is_some() { "not come to" } else { "left out by the shop" }.to_owned(),
            found: Vec::new(),
            at: None,
            by: String::new(),
            witness: None,
            tries: 0,
            rounds: 0,
            round: 0,
        }
    }

    /// What stands of it now.
    fn told(step: &StepView) -> Self {
        let mut view = Self {
            number: step.number,
            title: step.title.clone(),
            verdict: step.verdict,
            accepted: step.accepted,
            status: step.status.to_owned(),
            found: Vec::new(),
            at: None,
            by: String::new(),
            witness: None,
            tries: 0,
            rounds: 1,
            round: 1,
        };
        let mut entered: IndexMap<String, String> = IndexMap::new();
        for deed in &step.deeds {
            match &deed.what {
                What::Entered { values, witness, .. } => {
                    view.tries += 1;
                    (view.at, view.by) = (Some(deed.at), deed.by.clone());
                    view.witness = match witness {
                        Some(Witness::By(by)) => Some(by.clone()),
                        Some(Witness::Alone) => Some("NOT SHOWN, a one-person shop".to_owned()),
                        None => None,
                    };
                    for entry in values {
                        let with = entry.with.as_ref().map(|with| format!(" ({with})")).unwrap_or_default();
                        entered.insert(entry.named.name.clone(), format!("{}{with}", entry.named.words()));
                    }
                }
                What::Corrected { values, .. } => {
                    for entry in values {
                        entered.insert(entry.named.name.clone(), format!("{}, corrected", entry.named.words()));
                    }
                }
                What::Judged { found, .. } => {
                    for named in found.iter().filter(|named| !matches!(named.value, Value::Record(_))) {
                        let name = named.name.strip_prefix("spec.").unwrap_or(&named.name);
                        let text = format!("{} {}", words(name), named.shown);
                        entered.entry(named.name.clone()).or_insert(text);
                    }
                }
                _ => {}
            }
        }
        view.found = entered.into_values().collect();
        view
    }

    /// `, 6 of 6` where it was come to in more rounds than one.
    pub fn which(&self) -> String {
        if self.rounds > 1 { format!(", {} of {}", self.round, self.rounds) } else { String::new() }
    }
}

/// Whether the round in which it was done counts no more, or did not reach what the repeat is for, and the next has not come
/// to it yet.
fn is_due_again(plan: &Plan, state: &State, address: &Address) -> bool {
    let mut at = address.clone();
    while let Some(repeat) = plan.enclosing_repeat(&at.step) {
        let round = Address::step(repeat, &at.rounds);
        at.rounds.pop();
        let whole = Address::step(repeat, &at.rounds);
        let goes_on =
            state.step(&round).and_then(|known| known.progress.settled.get("until")) == Some(&Value::Truth(false));
        let is_accepted = state.step(&whole).is_some_and(|known| known.accepted);
        if (goes_on || state.rounds_over.contains(&round)) && !is_accepted {
            return true;
        }
        at = whole;
    }
    false
}
