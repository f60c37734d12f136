//! Every decision of the machine, made again from the plan that was kept.

use std::sync::Arc;

use super::moved::{Moved, each_number};
use super::near::{self, Differs, NUDGE};
use super::point::Point;
use standpipe_apart::Opening;
use standpipe_job::judge;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::replay::{input_of, is_recovery};
use standpipe_job::{self as job, Address, Event, Machine, Record, State};
use standpipe_procedure::{Expr, Next};
use standpipe_quantity::value::Value;

pub struct Decided {
    point: Point,
    apart: Arc<Opening>,
}

impl Decided {
    /// `apart`: which texts are left out.
    pub fn new(file: &str, apart: &Arc<Opening>) -> Self {
        Self { point: Point::new("decisions", file), apart: apart.clone() }
    }

    pub fn point(self) -> Point {
        self.point
    }

    /// Decides again what one input led to, on what was recorded before it.
    pub fn batch(&mut self, machine: &Machine, before: &State, batch: &[Record]) {
        let Some(first) = batch.first() else { return };
        self.point.looked_at += batch.len() as u64;
        if is_recovery(batch) {
            return;
        }
        let Some(input) = input_of(batch) else {
            self.point.fails(first.seq, format!("no entry leads to {} with other events after it", what(first)));
            return;
        };
        let again = match machine.decide(before, &input) {
            Ok(again) => again,
            Err(refusal) => {
                self.point.fails(first.seq, format!("this would be refused: {}", refusal.message));
                return;
            }
        };
        let mut state = before.clone();
        for (recorded, again) in batch.iter().zip(&again) {
            let mut differences = near::differences(recorded, again);
            // A line of a tag is kept apart as a whole, and can't be made again of words that are left out themselves.
            differences.retain(|it| !(it.path.starts_with("tag.") && self.apart.is_left_out(&it.recorded)));
            let hard = differences.iter().find(|it| !it.only_words);
            match (hard, differences.first()) {
                (Some(difference), _) => {
                    self.differs(&machine.plan, &state, recorded, again, difference);
                    // What follows was decided on something else.
                    return;
                }
                // Decided alike, said otherwise: another build of the program may have other words for it.
                (None, Some(difference)) => self.point.unshown(recorded.seq, words(recorded, difference)),
                (None, None) => {}
            }
            state.apply(recorded);
        }
        if let Some(extra) = batch.get(again.len()) {
            self.point.fails(extra.seq, format!("{} does not follow from the entry", what(extra)));
        } else if let Some(missing) = again.get(batch.len()) {
            let last = batch.last().map_or(first.seq, |record| record.seq);
            self.point.fails(last, format!("{} should follow here and is missing", what(missing)));
        }
    }

    fn differs(&mut self, plan: &Plan, state: &State, recorded: &Record, again: &Record, difference: &Differs) {
        let line = recorded.seq;
        let text = words(recorded, difference);
        // Only what was concluded may hang by a thread; who, when and on what is what it is.
        let concluded = matches!(difference.path.as_str(), "verdict" | "value.truth");
        match concluded && flip(plan, state, recorded, again) {
            true => self.point.unshown(line, format!("{text}; it turns within 1e-9 of the values")),
            false => self.point.fails(line, text),
        }
    }
}

fn words(recorded: &Record, difference: &Differs) -> String {
    let Differs { path, recorded: was, again, .. } = difference;
    match (&recorded.event, path.as_str()) {
        (Event::Judged { address, .. }, "verdict") => {
            format!("the gate of `{address}` was recorded as {was}; decided again it is {again}")
        }
        _ => format!("{}: `{path}` was recorded as {was}; decided again it is {again}", what(recorded)),
    }
}

/// An event in a few words: its kind, and where it belongs.
fn what(record: &Record) -> String {
    let json = serde_json::to_value(&record.event).unwrap_or_default();
    let text = |key: &str| json.get(key).and_then(serde_json::Value::as_str).map(str::to_owned);
    match (text("event"), text("address")) {
        (Some(kind), Some(address)) => format!("`{kind}` of `{address}`"),
        (Some(kind), None) => format!("`{kind}`"),
        _ => "an event".to_owned(),
    }
}

/// Does the recorded outcome come about if the values are a billionth larger or smaller?
fn flip(plan: &Plan, state: &State, recorded: &Record, again: &Record) -> bool {
    match (&recorded.event, &again.event) {
        (
            Event::Judged { address, verdict, supersedes, .. },
            Event::Judged { address: other, verdict: now, supersedes: too, .. },
        ) if address == other && supersedes == too && verdict != now => {
            let Some(gate) = plan.step(&address.step).and_then(|step| step.gate.as_ref()) else { return false };
            let old = supersedes.and_then(|seq| state.verdicts.iter().find(|passed| passed.seq == seq));
            let names = match old {
                Some(old) => JobNames::at(plan, state, address, old.at, old.as_of),
                None => JobNames::new(plan, state, recorded.at, address.round()),
            };
            nudged(plan, &gate.must, &names).contains(verdict)
        }
        (
            Event::Settled { address, what, value: Value::Truth(truth), .. },
            Event::Settled { address: other, what: now, value: Value::Truth(_), .. },
        ) if address == other && what == now => {
            let names = JobNames::new(plan, state, recorded.at, address.round());
            let wanted = if *truth { job::Verdict::Met } else { job::Verdict::NotMet };
            condition(plan, address, what).is_some_and(|expr| nudged(plan, expr, &names).contains(&wanted))
        }
        _ => false,
    }
}

fn condition<'a>(plan: &'a Plan, address: &Address, what: &str) -> Option<&'a Expr> {
    let step = plan.step(&address.step)?;
    match (what, step.kind.next(&Default::default())) {
        ("when", _) => step.when.as_ref(),
        ("until", Next::Rounds { until, .. }) => Some(until),
        _ => None,
    }
}

/// The verdicts with all values, and with each alone, a little larger and a little smaller.
fn nudged(plan: &Plan, expr: &Expr, names: &JobNames<'_>) -> Vec<job::Verdict> {
    let mut verdicts = Vec::new();
    let uses = expr.uses(&plan.scripts);
    let alone = uses.iter().map(|name| Some(name.as_str()));
    for only in std::iter::once(None).chain(alone) {
        for factor in [1.0 + NUDGE, 1.0 - NUDGE] {
            let change = |name: &str, value: Value| match only.is_none_or(|only| only == name) {
                true => each_number(value, &|number| number * factor),
                false => value,
            };
            verdicts.push(judge::condition(plan, expr, &Moved { names, change: &change }).verdict);
        }
    }
    verdicts
}
