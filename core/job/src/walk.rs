//! Where a job stands. The answer follows from plan and state alone: no script runs here, nothing is recorded.

use super::address::Address;
use super::event::Verdict;
use super::state::{Call, Phase, State, StepState};
use super::steps::At;
use crate::plan::Plan;
use standpipe_procedure::{Ask, Children, Expr, Gate, Next, Otherwise, Progress, Step};

/// The next thing to be done, by the machine or by a person.
pub enum Where<'a> {
    /// `when` of a step wants judging.
    When {
        address: Address,
        expr: &'a Expr,
    },
    /// A kind wants something settled or computed.
    Wants {
        step: &'a Step,
        address: Address,
        next: Next<'a>,
    },
    Ask {
        step: &'a Step,
        address: Address,
        ask: Ask<'a>,
    },
    Judge {
        step: &'a Step,
        address: Address,
        gate: &'a Gate,
    },
    /// A gate that was not met, or not shown, and is not asked again.
    Held {
        step: &'a Step,
        address: Address,
        gate: &'a Gate,
        verdict: Verdict,
    },
    /// A round is through: is it the last?
    Until {
        address: Address,
        expr: &'a Expr,
    },
    /// All rounds are used up.
    Exhausted {
        step: &'a Step,
        address: Address,
        otherwise: &'a Otherwise,
        rounds: u32,
    },
    /// A called procedure is through.
    CallDone(Call),
    PauseDone,
    ResumeDone,
    /// A verdict turned bad after a correction and nobody has accepted it.
    Unaccepted {
        address: Address,
        verdict: Verdict,
    },
    Done,
}

pub fn walk<'a>(plan: &'a Plan, state: &State) -> Where<'a> {
    let walker = Walker { plan, state, fresh: StepState::default() };
    let done = match state.phase {
        Phase::Pausing => {
            return walker.aside(plan.main().on_pause.as_ref().map(|id| id.as_str())).unwrap_or(Where::PauseDone);
        }
        Phase::Resuming => {
            return walker.aside(plan.main().on_resume.as_ref().map(|id| id.as_str())).unwrap_or(Where::ResumeDone);
        }
        _ => match state.calls.last() {
            Some(call) => {
                let steps = plan.procedure(&call.procedure).map_or(&[][..], |procedure| &procedure.steps);
                walker.block(steps, &[call.call]).unwrap_or_else(|| Where::CallDone(call.clone()))
            }
            None => walker.block(&plan.main().steps, &[]).unwrap_or(Where::Done),
        },
    };
    match done {
        Where::Done => state
            .verdicts
            .iter()
            .find(|passed| !passed.superseded && !passed.accepted && passed.verdict != Verdict::Met)
            .map_or(Where::Done, |passed| Where::Unaccepted {
                address: passed.address.clone(),
                verdict: passed.verdict,
            }),
        other => other,
    }
}

struct Walker<'a, 's> {
    plan: &'a Plan,
    state: &'s State,
    /// Of a step that nothing is known of yet.
    fresh: StepState,
}

impl<'a> Walker<'a, '_> {
    /// The procedure that runs while pausing or resuming, once for each pause.
    fn aside(&self, procedure: Option<&str>) -> Option<Where<'a>> {
        let procedure = self.plan.procedure(procedure?)?;
        self.block(&procedure.steps, &[self.state.pauses])
    }

    /// The first thing to be done in a block; an entry of the block that has ended comes before what is left of it.
    fn block(&self, steps: &'a [Step], rounds: &[u32]) -> Option<Where<'a>> {
        let mut ended = None;
        for step in steps {
            let at = At::step(&step.id, rounds);
            let known = self.state.steps.known(at);
            if known.is_some_and(|known| known.is_through(self.plan.stamp)) {
                continue;
            }
            let state = known.map_or(&self.fresh, |known| &known.state);
            if let Some(found) = self.step(step, at, state) {
                return Some(ended.unwrap_or(found));
            }
            if ended.is_none() {
                ended = self.again(step, at, state);
            }
            if let Some(known) = known.filter(|known| known.state.ended.is_none())
                && matches!(step.kind.children(), Children::None)
            {
                known.set_through(self.plan.stamp);
            }
        }
        None
    }

    /// Asks a step anew whose entry has ended.
    fn again(&self, step: &'a Step, at: At<'_>, known: &StepState) -> Option<Where<'a>> {
        known.ended.as_ref()?;
        let anew = Progress { settled: known.progress.settled.clone(), ..Progress::default() };
        match step.kind.next(&anew) {
            Next::Ask(ask) => Some(Where::Ask { step, address: at.address(), ask }),
            _ => None,
        }
    }

    fn step(&self, step: &'a Step, at: At<'_>, known: &StepState) -> Option<Where<'a>> {
        if known.skipped {
            return None;
        }
        if let Some(expr) = &step.when {
            match known.progress.settled.get("when") {
                None => return Some(Where::When { address: at.address(), expr }),
                Some(standpipe_quantity::value::Value::Truth(false)) => return None,
                Some(_) => {}
            }
        }
        match step.kind.next(&known.progress) {
            Next::Done => {}
            Next::Block => {
                let found = self.children(step, at.rounds);
                if found.is_some() {
                    return found;
                }
            }
            Next::Rounds { until, at_most, otherwise } => {
                let found = self.rounds(step, at, known, until, at_most, otherwise);
                if found.is_some() {
                    return found;
                }
            }
            Next::Ask(ask) => return Some(Where::Ask { step, address: at.address(), ask }),
            next => return Some(Where::Wants { step, address: at.address(), next }),
        }
        gate(step, at, known)
    }

    fn children(&self, step: &'a Step, rounds: &[u32]) -> Option<Where<'a>> {
        match step.kind.children() {
            Children::None => None,
            Children::Steps(steps) => self.block(steps, rounds),
            Children::Procedure(id) => self.block(&self.plan.procedure(id)?.steps, rounds),
        }
    }

    fn rounds(
        &self,
        step: &'a Step,
        at: At<'_>,
        known: &StepState,
        until: &'a Expr,
        at_most: u32,
        otherwise: &'a Otherwise,
    ) -> Option<Where<'a>> {
        let mut rounds = at.rounds.to_vec();
        rounds.push(0);
        for round in 1..=at_most {
            rounds[at.rounds.len()] = round;
            let here = At { rounds: &rounds, ..at };
            if self.state.rounds_over.contains(&here) {
                continue;
            }
            if let Some(found) = self.children(step, &rounds) {
                return Some(found);
            }
            match self.state.steps.known(here).and_then(|known| known.state.progress.settled.get("until")) {
                None => return Some(Where::Until { address: here.address(), expr: until }),
                Some(standpipe_quantity::value::Value::Truth(true)) => return None,
                Some(_) => {}
            }
        }
        (!known.accepted).then(|| Where::Exhausted { step, address: at.address(), otherwise, rounds: at_most })
    }
}

fn gate<'a>(step: &'a Step, at: At<'_>, known: &StepState) -> Option<Where<'a>> {
    let gate = step.gate.as_ref()?;
    match known.verdict {
        None => Some(Where::Judge { step, address: at.address(), gate }),
        Some(Verdict::Met) => None,
        Some(_) if known.accepted => None,
        Some(verdict) => Some(Where::Held { step, address: at.address(), gate, verdict }),
    }
}
