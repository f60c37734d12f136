//! What trouble or a gate has undone: the work is due again, whatever block it stands in.

use super::Decision;
use crate::address::Address;
use crate::event::Event;
use crate::said::RoundEnd;
use standpipe_procedure::{Children, Step};
use standpipe_quantity::value::Value;
use standpipe_yaml::At;

impl Decision<'_> {
    /// Takes back what was done at these steps and inside them, in rounds that begin with these. Of a `repeat` the round that is under way, or was the last, ends
    /// and a new one is due: what was tried before stays what it was.
    pub(super) fn undo(&mut self, ids: &[At<String>], rounds: &[u32], by: &str) {
        let plan = self.plan;
        for id in ids {
            let Some(step) = plan.step(id) else { continue };
            self.undo_step(step, rounds, by);
        }
    }

    fn undo_step(&mut self, step: &Step, rounds: &[u32], by: &str) {
        let plan = self.plan;
        match step.kind.children() {
            Children::None => {
                let over = |address: &Address| {
                    plan.enclosing_repeat(&address.step)
                        .is_some_and(|repeat| self.state.rounds_over.contains(&Address::step(repeat, &address.rounds)))
                };
                let begun = |(address, known): (&Address, &crate::state::StepState)| {
                    let done = !known.progress.done.is_empty() || !known.progress.settled.is_empty() || known.skipped;
                    let here = address.step == step.id.as_str() && address.rounds.starts_with(rounds);
                    (here && done && !over(address)).then(|| address.clone())
                };
                let addresses: Vec<Address> = self.state.steps.iter().filter_map(begun).collect();
                if !addresses.is_empty() {
                    self.emit(Event::Undone { addresses, by: by.to_owned() });
                }
            }
            Children::Steps(_) => self.new_round(step, rounds, by),
            Children::Procedure(id) => {
                if let Some(procedure) = plan.procedure(id.as_str()) {
                    procedure.steps.iter().for_each(|child| self.undo_step(child, rounds, by));
                }
            }
        }
    }

    fn new_round(&mut self, step: &Step, rounds: &[u32], by: &str) {
        let plan = self.plan;
        // Not the addresses of an inner `repeat`: they carry its rounds as well.
        let inside = |address: &Address| {
            address.rounds.starts_with(rounds)
                && plan.enclosing_repeat(&address.step) == Some(step.id.as_str())
                && plan.step(&address.step).is_some_and(|inner| inner.kind.most_rounds().is_none())
        };
        let rounds = self
            .state
            .steps
            .iter()
            .filter(|(address, _)| inside(address))
            .map(|(address, _)| address.rounds.clone())
            .max();
        let Some(rounds) = rounds else { return };
        let address = Address::step(&step.id, &rounds);
        if self.state.rounds_over.contains(&address) {
            return;
        }
        let settled = self.state.step(&address).is_some_and(|known| known.progress.settled.contains_key("until"));
        if settled {
            let (used, missing) = (Vec::new(), Vec::new());
            let what = "until".to_owned();
            self.emit(Event::Settled { address, what, value: Value::Truth(false), used, missing });
        } else {
            self.emit(Event::RoundEnded { address, because: RoundEnd::Undone(by.to_owned()) });
        }
    }
}
