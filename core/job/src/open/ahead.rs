//! What follows plain confirmations, worked out on a copy: for somebody who works where nothing can be sent.

use super::{Asked, OpenJob};
use crate::event::Origin;
use crate::input::{Entry, Input, What};
use crate::pending::{AnswerKind, Pending, Photo, Prompt};

impl OpenJob {
    /// What is asked after this, as long as each is plainly confirmed; at most so many. What ends the row may want more
    /// than a confirmation. Nothing is recorded.
    pub fn ahead(&self, most: usize) -> Vec<Asked> {
        let mut state = self.state.clone();
        let mut found: Vec<Asked> = Vec::new();
        let since = self.asked().on.map_or(0, |on| on.since);
        while found.len() < most {
            let Pending::Entry(prompt) = self.machine.pending(&state) else { break };
            let (Some(by), Some(at), true) = (state.actor.clone(), state.at, self.is_plain(&prompt)) else { break };
            let entry = Entry { step: prompt.address.step.clone(), item: prompt.item.clone(), ..Entry::default() };
            let input = Input { at, entered_at: None, by, origin: Origin::Typed, what: What::Enter(entry) };
            let Ok((then, _)) = self.machine.decided(&state, &input) else { break };
            state = then;
            let pending = self.machine.pending(&state);
            let on = self.on(&pending).map(|on| super::On { since, ..on });
            found.push(Asked { pending, on });
        }
        found
    }

    /// Confirmed and nothing else: no value, witness, photo or time to hold, no gate behind it, and nothing that is kept.
    fn is_plain(&self, prompt: &Prompt) -> bool {
        let step = self.plan().step(&prompt.address.step);
        prompt.fields.iter().all(|field| field.kind == AnswerKind::Done)
            && prompt.witness.is_none()
            && prompt.evidence != Some(Photo::Required)
            && prompt.hold.is_none()
            && step.is_some_and(|step| step.gate.is_none() && !step.keep)
    }
}
