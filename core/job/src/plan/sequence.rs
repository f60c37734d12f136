//! What comes before what, as the main procedure has it written.

use super::Plan;
use crate::Address;

impl Plan {
    /// Whether a step in its round comes before another in the order of the work. Steps of procedures that are called have no
    /// place in that order.
    pub fn precedes(&self, one: &Address, other: &Address) -> bool {
        let (Some((_, end)), Some((start, _))) = (self.spans.get(&one.step), self.spans.get(&other.step)) else {
            return false;
        };
        let shared =
            self.repeats(&one.step).iter().zip(self.repeats(&other.step)).take_while(|(a, b)| **a == *b).count();
        let rounds = |address: &Address| address.rounds.get(..shared.min(address.rounds.len())).map(<[u32]>::to_vec);
        match rounds(one).cmp(&rounds(other)) {
            std::cmp::Ordering::Less => true,
            std::cmp::Ordering::Equal => end < start,
            std::cmp::Ordering::Greater => false,
        }
    }

    /// The `repeat`s around a step, outermost first; one counts as around itself, since its own addresses carry its rounds.
    fn repeats(&self, step: &str) -> Vec<&str> {
        let own = self.step(step).is_some_and(|step| step.kind.most_rounds().is_some());
        let mut all: Vec<&str> = self.enclosing_repeat(step).into_iter().collect();
        while let Some(outer) = all.last().and_then(|repeat| self.enclosing_repeat(repeat)) {
            all.push(outer);
        }
        all.reverse();
        if own {
            all.extend(self.spans.get_key_value(step).map(|(id, _)| id.as_str()));
        }
        all
    }
}
