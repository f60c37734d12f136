//! Where the last walk found something to do, so that the next one need not begin at the first step of a job.
//!
//! A walk may go on from there as long as nothing that it passed has changed: [`super::steps::Steps`] marks what was passed
//! and forgets the place with the first change to any of it.

use std::fmt;
use std::sync::{Mutex, PoisonError};

/// The stamp of a plan, and the way through its blocks: the number of a step in each, and of a round in a `repeat`.
type Way = (u64, Vec<u32>);

#[derive(Default)]
pub(crate) struct Front(Mutex<Option<Way>>);

impl Front {
    /// The way that was found under a plan.
    pub fn of(&self, plan: u64) -> Option<Vec<u32>> {
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.as_ref().filter(|(stamp, _)| *stamp == plan).map(|(_, way)| way.clone())
    }

    pub fn found(&self, plan: u64, way: Vec<u32>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some((plan, way));
    }

    pub fn forget(&mut self) {
        *self.0.get_mut().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

impl Clone for Front {
    fn clone(&self) -> Self {
        Self(Mutex::new(self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()))
    }
}

impl fmt::Debug for Front {
    /// It follows from plan and state, and is no part of where the job stands.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Front")
    }
}
