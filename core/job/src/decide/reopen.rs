//! What an input makes due: branches, items and rounds that had been settled on something else.
//!
//! What was recorded stands. But a branch that was left aside and is wanted now, an item that a list did not have, a round
//! for which there was no need: these are settled anew, and the walk comes to them again. The other way round nothing is
//! done: work that a correction would have spared has been done all the same.

use indexmap::IndexSet;

use super::Decision;
use super::follow::Changed;
use crate::address::Address;
use crate::event::Event;
use crate::names::JobNames;
use crate::plan::Plan;
use crate::state::{Settlement, State};
use standpipe_procedure::model::CORRECTION;
use standpipe_procedure::{Expr, Next, Progress, Step};
use standpipe_quantity::value::Value;
use standpipe_script::Fault;

/// What has changed.
pub(super) enum Change<'a> {
    /// Values where they stand: they were corrected, became known, or an entry came in that should have been there.
    Values(&'a Changed),
    /// The entry at this address, which gives these names, had ended and was made anew: what rested on it rests on the new
    /// one.
    Anew(&'a Address, &'a IndexSet<String>),
}

/// Something that was settled, with the expression that settled it.
struct Settled<'a> {
    address: Address,
    what: String,
    value: Value,
    settlement: Settlement,
    step: &'a Step,
    expr: &'a Expr,
}

impl Decision<'_> {
    pub(super) fn reopen(&mut self, change: &Change<'_>) {
        let plan = self.plan;
        for settled in settled(plan, &self.state) {
            if !self.rests_on(&settled, change) {
                continue;
            }
            let Settled { address, what, value: old, settlement, step, expr } = settled;
            let names = match change {
                Change::Anew(..) => self.names(address.round()),
                Change::Values(_) => JobNames::at(plan, &self.state, &address, settlement.at, settlement.seq),
            };
            let (value, missing) = match expr.evaluate(&plan.scripts, &names) {
                Ok(value) => (value, Vec::new()),
                // As when it is settled for the first time: what can't be ruled out is done, what can't be shown goes on.
                Err(Fault::NotShown(missing)) if matches!(what.as_str(), "when" | "until") => {
                    (Value::Truth(what == "when"), missing)
                }
                Err(_) => continue,
            };
            let due = match (what.as_str(), &old, &value) {
                ("when", Value::Truth(false), Value::Truth(true)) => true,
                ("until", Value::Truth(true), now) => *now != Value::Truth(true),
                ("of" | "within" | "for", old, now) => old != now,
                _ => false,
            };
            if !due {
                continue;
            }
            let value = if what == "until" { Value::Truth(false) } else { value };
            let used = expr.uses(&plan.scripts);
            let over = match what.as_str() {
                "of" => !step.starts_over.is_empty(),
                // What was entered was held against another range, or for another time.
                "within" | "for" => true,
                _ => false,
            };
            self.emit(Event::Settled { address: address.clone(), what, value, used, missing });
            if over {
                self.emit(Event::Ended { addresses: vec![address], by: CORRECTION.to_owned(), at_once: true });
            }
        }
    }

    fn rests_on(&self, settled: &Settled<'_>, change: &Change<'_>) -> bool {
        let scripts = &self.plan.scripts;
        match change {
            Change::Values(changed) => changed.touch(scripts, settled.expr),
            Change::Anew(address, names) => {
                settled.expr.uses(scripts).iter().filter(|name| names.contains(*name)).any(|name| {
                    let before = self.state.readings.iter().rev().find(|reading| {
                        !reading.rejected && reading.seq < settled.settlement.seq && reading.name == *name
                    });
                    before.is_some_and(|reading| reading.address.whole() == **address)
                })
            }
        }
    }
}

/// All that may open again.
fn settled<'a>(plan: &'a Plan, state: &State) -> Vec<Settled<'a>> {
    let mut all = Vec::new();
    for (address, known) in state.steps.iter() {
        let Some(step) = plan.step(&address.step) else { continue };
        for (what, settlement) in &known.settlements {
            let Some((expr, value)) = expression(step, what).zip(known.progress.settled.get(what)) else { continue };
            let (address, what, value) = (address.clone(), what.clone(), value.clone());
            all.push(Settled { address, what, value, settlement: *settlement, step, expr });
        }
    }
    all
}

fn expression<'a>(step: &'a Step, what: &str) -> Option<&'a Expr> {
    match (what, step.kind.next(&Progress::default())) {
        ("when", _) => step.when.as_ref(),
        ("until", Next::Rounds { until, .. }) => Some(until),
        ("of", Next::Settle { what: "of", expr })
        | ("within", Next::Settle { what: "within", expr })
        | ("for", Next::Settle { what: "for", expr }) => Some(expr),
        _ => None,
    }
}
