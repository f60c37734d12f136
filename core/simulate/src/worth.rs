//! What a part of a procedure is worth: the same jobs with it and without.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::bench::Bench;
use crate::count::Paired;
use crate::outcome::Outcome;
use crate::simulation::{Failed, Settings};

/// What two ways of doing the same jobs differ in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Differs {
    pub harmed: Paired,
    /// What is saved by the other way.
    pub seconds: i64,
    pub entries: i64,
}

impl Settings {
    /// The outcomes of a range of runs, in order; fewer where `stop` is set meanwhile.
    pub fn outcomes(&self, bench: &Bench<'_>, runs: Range<u32>, stop: &AtomicBool) -> Result<Vec<Outcome>, Failed> {
        let go_on = |_: &u32| !stop.load(Ordering::Relaxed);
        runs.take_while(go_on).map(|run| self.one(bench, run)).collect()
    }
}

/// Harmed though shown counts; the pairs are as many as both have.
pub fn differs(with: &[Outcome], without: &[Outcome]) -> Differs {
    let mut found = Differs::default();
    for (with, without) in with.iter().zip(without) {
        found.harmed.jobs += 1;
        match (with.is_false_shown(), without.is_false_shown()) {
            (false, true) => found.harmed.worse += 1,
            (true, false) => found.harmed.better += 1,
            _ => {}
        }
        found.seconds += with.seconds as i64 - without.seconds as i64;
        found.entries += with.entries as i64 - without.entries as i64;
    }
    found
}
