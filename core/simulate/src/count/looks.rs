//! Stopping as soon as the answer is clear, without being wrong more often for having looked often.

use super::share::{Interval, interval};

/// What a look shows of a share that must not be above a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Look {
    /// All of the interval lies at or below the limit.
    Shown(Interval),
    /// All of it lies above.
    Above(Interval),
    /// The limit lies within it.
    NotClear(Interval),
}

/// Looks at 4,000 jobs and twice as many each time. All of them together are wrong at most as often as one look at 95 %: each
/// has an equal part of the 5 % (Bonferroni; cruder than a spending function, and true whatever the counts).
#[derive(Clone, Copy, Debug)]
pub struct Looks {
    /// Most jobs.
    pub jobs: u64,
    pub limit: f64,
}

/// Jobs at the first look.
const FIRST: u64 = 4_000;

impl Looks {
    /// How many jobs are done when one looks, in order; the last is all of them.
    pub fn at(&self) -> Vec<u64> {
        let mut at: Vec<u64> = std::iter::successors(Some(FIRST), |jobs| jobs.checked_mul(2))
            .take_while(|jobs| *jobs < self.jobs)
            .collect();
        at.push(self.jobs);
        at
    }

    /// The part of error that each look has.
    pub fn alpha(&self) -> f64 {
        0.05 / self.at().len() as f64
    }

    pub fn look(&self, count: u64, jobs: u64) -> Look {
        let found = interval(count, jobs, self.alpha());
        if found.high <= self.limit {
            Look::Shown(found)
        } else if found.low > self.limit {
            Look::Above(found)
        } else {
            Look::NotClear(found)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looks_double_and_share_the_error() {
        let looks = Looks { jobs: 20_000, limit: 0.001 };
        assert_eq!(looks.at(), [4_000, 8_000, 16_000, 20_000]);
        assert_eq!(looks.alpha(), 0.05 / 4.0);
        assert_eq!(Looks { jobs: 1_000, limit: 0.001 }.at(), [1_000]);
        assert!(matches!(looks.look(0, 8_000), Look::Shown(_)));
        assert!(matches!(looks.look(100, 4_000), Look::Above(_)));
        assert!(matches!(looks.look(3, 4_000), Look::NotClear(_)));
    }
}
