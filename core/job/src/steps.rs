//! How far each step of a job has got, by its address. Copies share what lies in them.

use std::fmt;
use std::hash::Hash;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use indexmap::Equivalent;

use super::address::Address;
use super::front::Front;
use super::quick::QuickMap;
use super::state::StepState;

#[derive(Clone, Debug, Default)]
pub struct Steps {
    known: QuickMap<Arc<Address>, Arc<Known>>,
    pub(crate) front: Front,
}

/// What is known of a step.
#[derive(Default)]
pub(crate) struct Known {
    pub state: StepState,
    /// Stamp of the plan under which nothing was found to do here; 0 for none. What is found follows from the plan and
    /// this state alone, and the state can't be changed but by [`Steps::change`], which forgets it.
    through: AtomicU64,
    /// Whether a walk has passed by here: it would have to be gone again if this changed.
    passed: AtomicBool,
}

impl fmt::Debug for Known {
    /// What was found of a step is no part of where the job stands.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.state.fmt(f)
    }
}

impl Clone for Known {
    /// A copy is made to be changed.
    fn clone(&self) -> Self {
        Self { state: self.state.clone(), ..Self::default() }
    }
}

impl Known {
    pub fn is_through(&self, plan: u64) -> bool {
        self.through.load(Ordering::Relaxed) == plan
    }

    pub fn set_through(&self, plan: u64) {
        self.through.store(plan, Ordering::Relaxed);
    }

    pub fn pass(&self) {
        self.passed.store(true, Ordering::Relaxed);
    }
}

/// An address that is looked up: it owns nothing. Its parts are those of [`Address`], in the same order.
#[derive(Clone, Copy, Hash)]
pub(crate) struct At<'a> {
    pub step: &'a str,
    pub rounds: &'a [u32],
    pub item: &'a str,
}

impl<'a> At<'a> {
    pub fn step(step: &'a str, rounds: &'a [u32]) -> Self {
        Self { step, rounds, item: "" }
    }

    pub fn address(self) -> Address {
        Address { step: self.step.to_owned(), rounds: self.rounds.to_vec(), item: self.item.to_owned() }
    }

    fn is(self, address: &Address) -> bool {
        self.step == address.step && self.rounds == address.rounds && self.item == address.item
    }
}

impl Equivalent<Address> for At<'_> {
    fn equivalent(&self, address: &Address) -> bool {
        self.is(address)
    }
}

impl Equivalent<Arc<Address>> for At<'_> {
    fn equivalent(&self, address: &Arc<Address>) -> bool {
        self.is(address)
    }
}

impl Steps {
    pub(crate) fn known(&self, at: At<'_>) -> Option<&Known> {
        self.known.get(&at).map(|known| &**known)
    }

    /// Those that something is known of, in the order in which it came to be known.
    pub fn iter(&self) -> impl Iterator<Item = (&Address, &StepState)> {
        self.known.iter().map(|(address, known)| (&**address, &known.state))
    }

    /// What is known of a step as a whole; nothing yet where it has not begun.
    pub(crate) fn change(&mut self, address: &Address) -> &mut StepState {
        let at = At::step(&address.step, &address.rounds);
        let index = match self.known.get_index_of(&at) {
            Some(index) => index,
            None => self.known.insert_full(Arc::new(at.address()), Arc::default()).0,
        };
        if self.known[index].passed.load(Ordering::Relaxed) {
            self.front.forget();
        }
        let known = Arc::make_mut(&mut self.known[index]);
        (known.through, known.passed) = Default::default();
        &mut known.state
    }
}

#[cfg(test)]
mod tests;
