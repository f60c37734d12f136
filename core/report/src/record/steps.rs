//! Every step that was come to, with all that happened at it, in order.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;
use standpipe_job::said::{Lack, Remark};

use crate::shown::{Named, person};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{Address, Event, Machine, Record, State, Verdict, Witness};
use standpipe_procedure::Mark;
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StepView {
    /// Number on the card; none for a step of a procedure that was called.
    pub number: Option<usize>,
    #[schemars(with = "String")]
    pub address: Address,
    pub title: String,
    /// Title of the procedure that it is written in.
    pub section: String,
    pub kind: String,
    /// What its gate demands, as written.
    pub must: Option<String>,
    pub at_stake: Option<String>,
    /// `done`, `left out`, `not needed`, `open`.
    pub status: &'static str,
    /// The verdict that stands.
    pub verdict: Option<Verdict>,
    pub accepted: bool,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub changed: Vec<Mark>,
    pub deeds: Vec<StepEvent>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StepEvent {
    pub seq: u64,
    #[schemars(with = "String")]
    pub at: Moment,
    /// When it was entered, if later than it was done.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub entered_at: Option<Moment>,
    pub by: String,
    #[serde(flatten)]
    pub what: What,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum What {
    Entered {
        item: String,
        values: Vec<Entry>,
        witness: Option<Witness>,
        evidence: Vec<String>,
        remarks: Vec<String>,
        /// Not so for an attempt without success.
        counts: bool,
    },
    Judged {
        verdict: Verdict,
        found: Vec<Named>,
        missing: Vec<String>,
        /// In what share of trials it was met, where the gate asks for that.
        #[serde(skip_serializing_if = "Option::is_none")]
        likely: Option<f64>,
        /// The step was asked again.
        again: bool,
        /// A verdict after a correction, in the place of an earlier one.
        instead_of: Option<u64>,
    },
    Computed {
        gives: Option<String>,
        sheet: Option<String>,
        results: Vec<Named>,
        missing: Vec<String>,
        warnings: Vec<String>,
        instead_of: Option<u64>,
    },
    Ended {
        because: String,
    },
    /// What was entered before counts no more: the work is due again.
    Undone {
        /// Title of the step that undid it.
        at: String,
    },
    RoundEnded {
        because: String,
    },
    Skipped {
        because: String,
    },
    Accepted {
        because: String,
    },
    Corrected {
        values: Vec<Entry>,
        because: String,
    },
    Held {
        because: String,
    },
}

/// A value as it was typed and as the shop reads it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Entry {
    #[serde(flatten)]
    pub named: Named,
    pub typed: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
    /// In a correction: what stood there before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<String>,
}

pub(super) fn steps(machine: &Machine, records: &[Record], state: &State) -> Vec<StepView> {
    let plan = &machine.plan;
    let mut deeds: IndexMap<Address, Vec<StepEvent>> = IndexMap::new();
    let mut entered_at: IndexMap<u64, Address> = IndexMap::new();
    let mut standing: IndexMap<(u64, String), Value> = IndexMap::new();
    // A title with a value in it is told as it was read at its time.
    let mut titles: IndexMap<Address, String> = IndexMap::new();
    let mut so_far = State::default();
    for record in records {
        if let Event::Entered { address, values, .. } = &record.event {
            entered_at.insert(record.seq, address.whole());
            standing.extend(values.iter().map(|(name, value)| ((record.seq, name.clone()), value.clone())));
        }
        for (address, mut what) in deeds_of(plan, record, &entered_at, &standing) {
            if let What::Undone { at } = &mut what
                && let Some(step) = plan.step(at)
            {
                *at = machine.title(step, &JobNames::new(plan, &so_far, record.at, address.round()));
            }
            if let Some(step) = plan.step(&address.step) {
                let names = JobNames::new(plan, &so_far, record.at, address.round());
                titles.insert(address.clone(), machine.title(step, &names));
            }
            let by = person(plan, &record.by);
            let deed = StepEvent { seq: record.seq, at: record.at, entered_at: record.entered_at, by, what };
            deeds.entry(address).or_default().push(deed);
        }
        if let Event::Corrected { entry, values, .. } = &record.event {
            standing.extend(values.iter().map(|(name, value)| ((*entry, name.clone()), value.clone())));
        }
        // A step that is not needed was come to as well.
        if let Event::Settled { address, what, value: Value::Truth(false), .. } = &record.event
            && what == "when"
        {
            deeds.entry(address.whole()).or_default();
        }
        so_far.apply(record);
    }
    let view = |(address, deeds): (Address, Vec<StepEvent>)| {
        let title = titles.get(&address).cloned();
        step(machine, state, address, deeds, title)
    };
    deeds.into_iter().filter_map(view).collect()
}

fn step(
    machine: &Machine,
    state: &State,
    address: Address,
    deeds: Vec<StepEvent>,
    title: Option<String>,
) -> Option<StepView> {
    let plan = &machine.plan;
    let step = plan.step(&address.step)?;
    let names = JobNames::new(plan, state, state.at.unwrap_or_default(), address.round());
    let known = state.step(&address);
    let not_needed = known.is_some_and(|known| known.progress.settled.get("when") == Some(&Value::Truth(false)));
    let complete =
        known.is_some_and(|known| matches!(step.kind.next(&known.progress), standpipe_procedure::Next::Done));
    let is_block = !matches!(step.kind.children(), standpipe_procedure::Children::None);
    // A block has nothing to tell but the end of its rounds, which stands elsewhere.
    if is_block && deeds.is_empty() && !not_needed {
        return None;
    }
    let (number, _) = plan.position(&address.step);
    let verdict = state.verdicts.iter().rev().find(|passed| passed.address == address && !passed.superseded);
    let status = match known {
        Some(known) if known.skipped => "left out",
        _ if not_needed => "not needed",
        _ if complete || is_block => "done",
        _ => "open",
    };
    Some(StepView {
        number: (number > 0).then_some(number),
        title: title.unwrap_or_else(|| machine.title(step, &names)),
        section: plan.procedure_of(&address.step).map(|found| found.title.clone()).unwrap_or_default(),
        kind: step.kind.word().to_owned(),
        must: step.gate.as_ref().map(|gate| gate.words().split_whitespace().collect::<Vec<_>>().join(" ")),
        at_stake: step
            .gate
            .as_ref()
            .and_then(|gate| gate.at_stake.as_ref())
            .map(|text| text.fill(|path| names.show(path))),
        status,
        verdict: verdict.map(|passed| passed.verdict),
        accepted: verdict.is_some_and(|passed| passed.accepted),
        changed: step.marks.clone(),
        deeds,
        address,
    })
}

/// What an event means for the steps it belongs to.
fn deeds_of(
    plan: &Plan,
    record: &Record,
    entered_at: &IndexMap<u64, Address>,
    standing: &IndexMap<(u64, String), Value>,
) -> Vec<(Address, What)> {
    let one = |address: &Address, what: What| vec![(address.whole(), what)];
    let named = |values: &IndexMap<String, Value>| -> Vec<Named> {
        values.iter().map(|(name, value)| Named::new(plan, name, value)).collect()
    };
    match &record.event {
        Event::Entered { address, values, typed, with, witness, evidence, remarks, done, .. } => {
            let values = values
                .iter()
                .filter(|(_, value)| !value.is_unknown())
                .map(|(name, value)| Entry {
                    named: Named::new(plan, name, value),
                    typed: typed.get(name).cloned(),
                    with: with.get(name).and_then(|id| crate::shown::with(plan, &address.step, (name, value), id)),
                    before: None,
                })
                .collect();
            let what = What::Entered {
                item: address.item.clone(),
                values,
                witness: witness.as_ref().map(|witness| match witness {
                    Witness::By(id) => Witness::By(person(plan, id)),
                    not_shown => not_shown.clone(),
                }),
                evidence: evidence.iter().map(|evidence| evidence.name.clone()).collect(),
                remarks: remarks.iter().map(Remark::to_string).collect(),
                counts: *done,
            };
            one(address, what)
        }
        Event::Judged { address, verdict, found, missing, likely, again, supersedes } => {
            let missing = missing.iter().map(Lack::to_string).collect();
            let (verdict, likely, again) = (*verdict, *likely, *again);
            one(address, What::Judged { verdict, found: named(found), missing, likely, again, instead_of: *supersedes })
        }
        Event::Computed { address, gives, sheet, value, missing, warnings, supersedes, .. } => {
            let what = What::Computed {
                gives: gives.clone(),
                sheet: sheet.clone(),
                results: results(plan, gives.as_deref().unwrap_or("result"), value),
                missing: missing.iter().map(Lack::to_string).collect(),
                warnings: warnings.clone(),
                instead_of: *supersedes,
            };
            one(address, what)
        }
        Event::Ended { addresses, by, .. } => {
            let ended = |address: &Address| (address.whole(), What::Ended { because: by.clone() });
            addresses.iter().map(ended).collect()
        }
        Event::Undone { addresses, by } => {
            addresses.iter().map(|address| (address.whole(), What::Undone { at: by.clone() })).collect()
        }
        Event::RoundEnded { address, because } => one(address, What::RoundEnded { because: because.to_string() }),
        Event::Skipped { address, because } => one(address, What::Skipped { because: because.clone() }),
        Event::Accepted { address, because } => one(address, What::Accepted { because: because.clone() }),
        Event::Corrected { entry, values, typed, because } => {
            let Some(address) = entered_at.get(entry) else { return Vec::new() };
            let values = values
                .iter()
                .map(|(name, value)| Entry {
                    named: Named::new(plan, name, value),
                    typed: typed.get(name).cloned(),
                    with: None,
                    before: standing.get(&(*entry, name.clone())).map(|before| crate::shown::show(plan, before)),
                })
                .collect();
            one(address, What::Corrected { values, because: because.clone() })
        }
        Event::Blocked { address, missing } => {
            one(address, What::Held { because: format!("nobody had entered {}", missing.join(", ")) })
        }
        Event::Faulted { address, fault, place } => {
            one(address, What::Held { because: format!("a fault of the plan: {fault} ({place})") })
        }
        Event::Contradicted { address, what } => one(address, What::Held { because: what.words(plan) }),
        _ => Vec::new(),
    }
}

/// Every output of a computation by its full name.
pub(super) fn results(plan: &Plan, name: &str, value: &Value) -> Vec<Named> {
    match value {
        Value::Record(outputs) => {
            outputs.iter().flat_map(|(output, value)| results(plan, &format!("{name}.{output}"), value)).collect()
        }
        value => vec![Named::new(plan, name, value)],
    }
}
