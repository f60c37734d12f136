//! Does all that needs nobody: judges, settles, computes, until a person has to act.

use indexmap::IndexMap;

use super::Decision;
use super::evaluate::Evaluated;
use crate::address::Address;
use crate::event::{Event, Verdict};
use crate::judge::{Judgement, of_value};
use crate::said::{Lack, PlanFault, RoundEnd};
use crate::state::Phase;
use crate::walk::{NextWork, walk};
use standpipe_diagnostic::Diagnostic;
use standpipe_procedure::{Expr, Gate, Next, Otherwise, Progress, Step, With};
use standpipe_quantity::value::Value;
use standpipe_yaml::At;

/// More machine steps than this between two entries is a circle in the plan.
const MOST_STEPS: usize = 10_000;

impl<'a> Decision<'a> {
    pub(super) fn advance(&mut self) {
        for _ in 0..MOST_STEPS {
            if self.state.blocker.is_some() || !self.state.is_open() || self.state.phase == Phase::Paused {
                return;
            }
            let plan = self.plan;
            match walk(plan, &self.state) {
                NextWork::When { address, expr, .. } => self.when(address, expr),
                NextWork::Wants { step, address, next } => self.want(step, address, next),
                NextWork::Judge { step, address, gate } => self.judge(step, address, gate),
                NextWork::Until { address, expr, .. } => self.until(address, expr),
                NextWork::CallDone(call) => self.returned(&call.procedure, call.call),
                NextWork::PauseDone => {
                    let tag = self.tag();
                    self.emit(Event::Paused { pause: self.state.pauses, tag });
                }
                NextWork::ResumeDone => {
                    self.emit(Event::WentOn { pause: self.state.pauses });
                }
                NextWork::Done => {
                    self.emit(Event::Finished);
                }
                NextWork::Ask { .. }
                | NextWork::Held { .. }
                | NextWork::Exhausted { .. }
                | NextWork::Unaccepted { .. } => return,
            }
        }
        let address = Address::step(&plan_id(self), &[]);
        self.emit(Event::Faulted { address, fault: PlanFault::Circle, place: String::new() });
    }

    fn fault(&mut self, address: Address, diagnostic: &Diagnostic) {
        let fault = PlanFault::Failed(diagnostic.into());
        self.emit(Event::Faulted { address, fault, place: diagnostic.place.to_string() });
    }

    fn uses(&self, expr: &Expr) -> Vec<String> {
        expr.uses(&self.plan.scripts)
    }

    /// Handles what every evaluation shares; gives back a value or the names that are missing.
    fn settle(&mut self, address: &Address, expr: &Expr) -> Option<Result<Value, Vec<String>>> {
        match self.evaluate(expr, address.round()) {
            Evaluated::Value(value) => Some(Ok(value)),
            Evaluated::Missing(missing) => Some(Err(missing)),
            Evaluated::Unknown(missing) => {
                self.emit(Event::Blocked { address: address.clone(), missing });
                None
            }
            Evaluated::Fault(diagnostic) => {
                self.fault(address.clone(), &diagnostic);
                None
            }
            Evaluated::Stale { names, addresses, by } => {
                self.emit(Event::Ended { addresses, by, at_once: true });
                // Nothing was asked until it ended, so what is asked now is it. A reading in a round that is over can't be asked
                // again: then it is simply not shown.
                match walk(self.plan, &self.state) {
                    NextWork::Ask { .. } => None,
                    _ => Some(Err(names)),
                }
            }
        }
    }

    fn when(&mut self, address: Address, expr: &Expr) {
        let used = self.uses(expr);
        let (value, missing) = match self.settle(&address, expr) {
            None => return,
            Some(Ok(Value::Truth(truth))) => (truth, Vec::new()),
            Some(Ok(_)) => {
                let place = expr.place().to_string();
                let fault = PlanFault::NotTruth(expr.text().to_owned());
                self.emit(Event::Faulted { address, fault, place });
                return;
            }
            // What can't be ruled out is done.
            Some(Err(missing)) => (true, missing),
        };
        self.emit(Event::Settled { address, what: "when".to_owned(), value: Value::Truth(value), used, missing });
    }

    fn until(&mut self, address: Address, expr: &Expr) {
        let used = self.uses(expr);
        let (value, missing) = match self.settle(&address, expr) {
            None => return,
            Some(Ok(value)) => (value == Value::Truth(true), Vec::new()),
            Some(Err(missing)) => (false, missing),
        };
        self.emit(Event::Settled { address, what: "until".to_owned(), value: Value::Truth(value), used, missing });
    }

    fn want(&mut self, step: &Step, address: Address, next: Next<'_>) {
        match next {
            Next::Settle { what, expr } => {
                let used = self.uses(expr);
                match self.settle(&address, expr) {
                    None => {}
                    Some(Ok(value)) => {
                        self.emit(Event::Settled { address, what: what.to_owned(), value, used, missing: Vec::new() });
                    }
                    Some(Err(names)) => {
                        let fault = PlanFault::Unread { expression: expr.text().to_owned(), names };
                        self.emit(Event::Faulted { address, fault, place: expr.place().to_string() });
                    }
                }
            }
            Next::Give { what, expr, gives } => {
                let used = self.uses(expr);
                let (value, missing) = match self.settle(&address, expr) {
                    None => return,
                    Some(Ok(value)) => (value, Vec::new()),
                    Some(Err(names)) => (Value::Unknown, Lack::names(names)),
                };
                self.emit(Event::Computed {
                    address,
                    what: what.to_owned(),
                    gives: Some(gives.value.clone()),
                    sheet: None,
                    inputs: IndexMap::new(),
                    value,
                    used,
                    missing,
                    warnings: Vec::new(),
                    supersedes: None,
                });
            }
            Next::Call { what, sheet, with, gives } => self.call_sheet(step, address, what, sheet, with, gives),
            Next::Done | Next::Ask(_) | Next::Block | Next::Rounds { .. } => {}
        }
    }

    fn call_sheet(
        &mut self,
        step: &Step,
        address: Address,
        what: &str,
        sheet_id: &At<String>,
        with: With<'_>,
        gives: Option<&At<String>>,
    ) {
        let Some(sheet) = self.plan.sheets.get(sheet_id.as_str()) else {
            let fault = PlanFault::NoSheet { step: step.id.value.clone(), sheet: sheet_id.value.clone() };
            self.emit(Event::Faulted { address, fault, place: sheet_id.place.to_string() });
            return;
        };
        let (mut inputs, mut used, mut missing) = (IndexMap::new(), Vec::new(), Vec::new());
        match with {
            With::Values(values) => inputs = values,
            With::Exprs(exprs) => {
                for (name, expr) in exprs {
                    used.extend(self.uses(expr));
                    match self.settle(&address, expr) {
                        None => return,
                        Some(Ok(value)) => {
                            inputs.insert(name.clone(), value);
                        }
                        Some(Err(_)) if sheet.is_optional(name) => {}
                        Some(Err(names)) => missing.extend(Lack::names(names)),
                    }
                }
            }
        }
        used.dedup();
        let (mut value, mut warnings) = (Value::Unknown, Vec::new());
        if missing.is_empty() {
            match sheet.run(&self.plan.scripts, inputs.clone()) {
                Ok(outcome) => {
                    value = Value::Record(outcome.outputs);
                    warnings = outcome.warnings;
                }
                // Refused: not shown, with the reason; what needs the result will say so.
                Err(fault) => missing = Lack::of(fault),
            }
        }
        if value.is_unknown() && gives.is_none() {
            let fault = PlanFault::NoResult { sheet: sheet_id.value.clone(), missing };
            self.emit(Event::Faulted { address, fault, place: sheet_id.place.to_string() });
            return;
        }
        self.emit(Event::Computed {
            address,
            what: what.to_owned(),
            gives: gives.map(|name| name.value.clone()),
            sheet: Some(sheet_id.value.clone()),
            inputs,
            value,
            used,
            missing,
            warnings,
            supersedes: None,
        });
    }

    fn judge(&mut self, step: &Step, address: Address, gate: &Gate) {
        let Judgement { verdict, missing, likely } = match self.settle(&address, &gate.must) {
            None => return,
            Some(Ok(value)) => of_value(self.plan, gate, &self.names(address.round()), &value),
            Some(Err(names)) => Judgement::plain(Verdict::NotShown, Lack::names(names)),
        };
        let found = self.found(gate, address.round());
        let unmet = verdict != Verdict::Met;
        let again = unmet && matches!(gate.otherwise, Otherwise::Wait(_)) && self.can_ask_again(step, &address);
        self.emit(Event::Judged { address: address.clone(), verdict, found, missing, likely, again, supersedes: None });
        match &gate.otherwise {
            Otherwise::NextRound if unmet => self.end_round(&address, RoundEnd::NotMet),
            Otherwise::Wait(anew) if again => self.undo(anew, &address.rounds, &step.id),
            _ => {}
        }
    }

    /// The values that a gate looked at.
    pub(super) fn found(&self, gate: &Gate, round: u32) -> IndexMap<String, Value> {
        let names = self.names(round);
        let mut found = IndexMap::new();
        for name in gate.must.names(&self.plan.scripts) {
            if let Some(value) = names.path(&name.path) {
                found.insert(name.path.join("."), value);
            }
        }
        found
    }

    fn can_ask_again(&self, step: &Step, address: &Address) -> bool {
        let settled = self.state.step(address).map(|known| known.progress.settled.clone()).unwrap_or_default();
        matches!(step.kind.next(&Progress { settled, ..Progress::default() }), Next::Ask(_))
    }

    pub(super) fn end_round(&mut self, address: &Address, because: RoundEnd) {
        if let Some(repeat) = self.plan.enclosing_repeat(&address.step) {
            let address = Address { step: repeat.to_owned(), rounds: address.rounds.clone(), item: String::new() };
            self.emit(Event::RoundEnded { address, because });
        }
    }

    fn returned(&mut self, procedure: &str, call: u32) {
        let plan = self.plan;
        let abandon = match plan.procedure(procedure).and_then(|procedure| procedure.abandon_when.as_ref()) {
            None => false,
            Some(expr) => matches!(self.evaluate(expr, call), Evaluated::Value(Value::Truth(true))),
        };
        self.emit(Event::Returned { procedure: procedure.to_owned(), call });
        if abandon {
            self.emit(Event::Abandoned { because: String::new(), decided_in: Some(procedure.to_owned()) });
            return;
        }
        // Nobody may go on over a stop; but what was wrong has been dealt with, so the step is asked again.
        if let NextWork::Held { step, address, gate, .. } = walk(plan, &self.state)
            && (step.keep || !matches!(gate.otherwise, Otherwise::Ask(_)))
            && self.can_ask_again(step, &address)
        {
            self.emit(Event::Ended { addresses: vec![address], by: procedure.to_owned(), at_once: true });
        }
    }
}

fn plan_id(decision: &Decision<'_>) -> String {
    decision.plan.main().id.value.clone()
}
