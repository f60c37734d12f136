//! What comes before what, as the main procedure has it written.

use std::cmp::Ordering;

use super::Plan;
use crate::Address;

/// Where a step lies in the order of the work.
pub(super) struct Span {
    /// First and last place in the order; of a `repeat` or an `include` those of what is inside.
    pub first: usize,
    pub last: usize,
    /// The `repeat`s around it, outermost first. One counts as around itself: its own addresses carry its rounds.
    pub repeats: Vec<String>,
}

impl Plan {
    /// Whether a step in its round comes before another in the order of the work. Steps of procedures that are called have no
    /// place in that order.
    pub fn precedes(&self, one: &Address, other: &Address) -> bool {
        self.after(one)(other)
    }

    /// Of every other address, whether this one precedes it.
    pub fn after<'p>(&'p self, one: &'p Address) -> impl Fn(&Address) -> bool + 'p {
        let span = self.spans.get(&one.step);
        move |other| {
            let Some((span, later)) = span.zip(self.spans.get(&other.step)) else { return false };
            let shared = span.repeats.iter().zip(&later.repeats).take_while(|(a, b)| a == b).count();
            let rounds = |address: &'_ Address| shared.min(address.rounds.len());
            match one.rounds[..rounds(one)].cmp(&other.rounds[..rounds(other)]) {
                Ordering::Less => true,
                Ordering::Equal => span.last < later.first,
                Ordering::Greater => false,
            }
        }
    }
}
