//! Where a job stands. The answer follows from plan and state alone: no script runs here, nothing is recorded.

use super::address::Address;
use super::event::Verdict;
use super::state::{Call, Phase, State, StepState};
use super::steps::At;
use crate::plan::Plan;
use standpipe_procedure::{Ask, Children, Expr, Gate, Next, Otherwise, Progress, Step};

/// The next thing to be done, by the machine or by a person.
pub enum NextWork<'a> {
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

pub fn walk<'a>(plan: &'a Plan, state: &State) -> NextWork<'a> {
    let front = state.steps.front.of(plan.stamp);
    let went_on = front.is_some();
    let found = walk_from(plan, state, front);
    debug_assert!(
        !went_on || found.place() == walk_from(plan, state, None).place(),
        "{:?} is no place to go on from to {:?}",
        state.steps.front.of(plan.stamp),
        found.place(),
    );
    found
}

fn walk_from<'a>(plan: &'a Plan, state: &State, front: Option<Vec<u32>>) -> NextWork<'a> {
    let fresh = StepState::default();
    let follows = front.is_some();
    let front = front.unwrap_or_default();
    let mut walker = Walker { plan, state, fresh: &fresh, front, follows, way: Vec::new(), again: false };
    let found = walker.find();
    if !walker.way.is_empty() && !walker.again {
        state.steps.front.found(plan.stamp, walker.way);
    }
    match found {
        NextWork::Done => state.turned().next().map_or(NextWork::Done, |passed| NextWork::Unaccepted {
            address: passed.address.clone(),
            verdict: passed.verdict,
        }),
        other => other,
    }
}

impl NextWork<'_> {
    /// What kind of thing is to be done, and where.
    fn place(&self) -> (std::mem::Discriminant<Self>, Option<&Address>) {
        let address = match self {
            NextWork::When { address, .. }
            | NextWork::Wants { address, .. }
            | NextWork::Ask { address, .. }
            | NextWork::Judge { address, .. }
            | NextWork::Held { address, .. }
            | NextWork::Until { address, .. }
            | NextWork::Exhausted { address, .. }
            | NextWork::Unaccepted { address, .. } => Some(address),
            NextWork::CallDone(_) | NextWork::PauseDone | NextWork::ResumeDone | NextWork::Done => None,
        };
        (std::mem::discriminant(self), address)
    }
}

struct Walker<'a, 's> {
    plan: &'a Plan,
    state: &'s State,
    /// Of a step that nothing is known of yet.
    fresh: &'s StepState,
    /// The way to where the last walk found something, and whether this walk is still on it.
    front: Vec<u32>,
    follows: bool,
    /// The way so far.
    way: Vec<u32>,
    /// What was found is an entry that has ended, and may lie before others.
    again: bool,
}

impl<'a, 's> Walker<'a, 's> {
    fn find(&mut self) -> NextWork<'a> {
        let (plan, state) = (self.plan, self.state);
        match state.phase {
            Phase::Pausing => {
                self.aside(plan.main().on_pause.as_ref().map(|id| id.as_str())).unwrap_or(NextWork::PauseDone)
            }
            Phase::Resuming => {
                self.aside(plan.main().on_resume.as_ref().map(|id| id.as_str())).unwrap_or(NextWork::ResumeDone)
            }
            _ => match state.calls.last() {
                Some(call) => {
                    let steps = plan.procedure(&call.procedure).map_or(&[][..], |procedure| &procedure.steps);
                    self.block(steps, &[call.call]).unwrap_or_else(|| NextWork::CallDone(call.clone()))
                }
                None => self.block(&plan.main().steps, &[]).unwrap_or(NextWork::Done),
            },
        }
    }

    /// The procedure that runs while pausing or resuming, once for each pause.
    fn aside(&mut self, procedure: Option<&str>) -> Option<NextWork<'a>> {
        let procedure = self.plan.procedure(procedure?)?;
        self.block(&procedure.steps, &[self.state.pauses])
    }

    /// The first thing to be done in a block; an entry of the block that has ended comes before what is left of it.
    fn block(&mut self, steps: &'a [Step], rounds: &[u32]) -> Option<NextWork<'a>> {
        let mut ended = None;
        let first = self.start();
        for (number, step) in steps.iter().enumerate().skip(first as usize) {
            self.way.push(number as u32);
            self.follows &= number == first as usize;
            let at = At::step(&step.id, rounds);
            let known = self.state.steps.known(at);
            if !known.is_some_and(|known| known.is_through(self.plan.stamp)) {
                let state = known.map_or(self.fresh, |known| &known.state);
                if let Some(found) = self.step(step, at, state) {
                    self.again |= ended.is_some();
                    return Some(ended.unwrap_or(found));
                }
                if ended.is_none() {
                    ended = self.again(step, at, state);
                }
                if let Some(known) = known {
                    known.pass();
                    if known.state.ended.is_none() && matches!(step.kind.children(), Children::None) {
                        known.set_through(self.plan.stamp);
                    }
                }
            }
            self.way.pop();
        }
        self.follows = false;
        None
    }

    /// Where to begin in the next block or rounds.
    fn start(&mut self) -> u32 {
        let start = self.front.get(self.way.len()).filter(|_| self.follows).copied();
        self.follows &= start.is_some();
        start.unwrap_or_default()
    }

    /// Asks a step anew whose entry has ended.
    fn again(&self, step: &'a Step, at: At<'_>, known: &StepState) -> Option<NextWork<'a>> {
        known.ended.as_ref()?;
        let anew = Progress { settled: known.progress.settled.clone(), ..Progress::default() };
        match step.kind.next(&anew) {
            Next::Ask(ask) => Some(NextWork::Ask { step, address: at.address(), ask }),
            _ => None,
        }
    }

    fn step(&mut self, step: &'a Step, at: At<'_>, known: &StepState) -> Option<NextWork<'a>> {
        if known.skipped {
            return None;
        }
        if let Some(expr) = &step.when {
            match known.progress.settled.get("when") {
                None => return Some(NextWork::When { address: at.address(), expr }),
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
            Next::Ask(ask) => return Some(NextWork::Ask { step, address: at.address(), ask }),
            next => return Some(NextWork::Wants { step, address: at.address(), next }),
        }
        gate(step, at, known)
    }

    fn children(&mut self, step: &'a Step, rounds: &[u32]) -> Option<NextWork<'a>> {
        match step.kind.children() {
            Children::None => None,
            Children::Steps(steps) => self.block(steps, rounds),
            Children::Procedure(id) => self.block(&self.plan.procedure(id)?.steps, rounds),
        }
    }

    fn rounds(
        &mut self,
        step: &'a Step,
        at: At<'_>,
        known: &StepState,
        until: &'a Expr,
        at_most: u32,
        otherwise: &'a Otherwise,
    ) -> Option<NextWork<'a>> {
        let mut rounds = at.rounds.to_vec();
        rounds.push(0);
        let first = self.start().max(1);
        for round in first..=at_most {
            rounds[at.rounds.len()] = round;
            let here = At { rounds: &rounds, ..at };
            if self.state.rounds_over.contains(&here) {
                continue;
            }
            self.way.push(round);
            self.follows &= round == first;
            if let Some(found) = self.children(step, &rounds) {
                return Some(found);
            }
            let known = self.state.steps.known(here);
            let settled = known.and_then(|known| known.state.progress.settled.get("until"));
            if settled.is_none() {
                return Some(NextWork::Until { address: here.address(), expr: until });
            }
            known.inspect(|known| known.pass());
            self.way.pop();
            if matches!(settled, Some(standpipe_quantity::value::Value::Truth(true))) {
                return None;
            }
        }
        self.follows = false;
        (!known.accepted).then(|| NextWork::Exhausted { step, address: at.address(), otherwise, rounds: at_most })
    }
}

fn gate<'a>(step: &'a Step, at: At<'_>, known: &StepState) -> Option<NextWork<'a>> {
    let gate = step.gate.as_ref()?;
    match known.verdict {
        None => Some(NextWork::Judge { step, address: at.address(), gate }),
        Some(Verdict::Met) => None,
        Some(_) if known.accepted => None,
        Some(verdict) => Some(NextWork::Held { step, address: at.address(), gate, verdict }),
    }
}
