//! The same jobs done twice, with and without something: only those count that came out differently.

use super::beta::beta;
use super::share::Interval;

/// How pairs came out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Paired {
    pub jobs: u64,
    /// Harmed only without it.
    pub worse: u64,
    /// Harmed only with it.
    pub better: u64,
}

impl Paired {
    /// The share by which harms rise without it.
    pub fn difference(&self) -> f64 {
        if self.jobs == 0 { 0.0 } else { (self.worse as f64 - self.better as f64) / self.jobs as f64 }
    }

    /// How often chance alone would make the two differ so much: the exact test of McNemar (1947), two sides.
    pub fn p(&self) -> f64 {
        let all = self.worse + self.better;
        if all == 0 {
            return 1.0;
        }
        let more = self.worse.max(self.better);
        (2.0 * beta(0.5, more as f64, (all - more + 1) as f64)).min(1.0)
    }

    /// The interval of the difference of Tango (1998): all differences that his score test would not refuse at this number
    /// of standard deviations. Source: T. Tango, Statistics in Medicine 17 (1998) 891; from memory, checked below where its
    /// ends can be had in closed form.
    pub fn interval(&self, deviations: f64) -> Interval {
        let found = self.difference();
        let end = |outside: f64| {
            let (mut near, mut far) = (found, outside);
            for _ in 0..80 {
                let middle = 0.5 * (near + far);
                if self.score(middle).abs() <= deviations {
                    near = middle;
                } else {
                    far = middle;
                }
            }
            near
        };
        Interval { low: end(-1.0), high: end(1.0) }
    }

    /// How many standard deviations the pairs lie from a difference.
    fn score(&self, difference: f64) -> f64 {
        let (n, b, c) = (self.jobs as f64, self.worse as f64, self.better as f64);
        let top = b - c - n * difference;
        // The most likely share of the pairs that are better, if the difference is this one.
        let half = -b - c + (2.0 * n - b + c) * difference;
        let share =
            ((half * half - 8.0 * n * (-c * difference * (1.0 - difference))).max(0.0).sqrt() - half) / (4.0 * n);
        let variance = n * (2.0 * share + difference * (1.0 - difference));
        if top == 0.0 { 0.0 } else { top / variance.max(f64::MIN_POSITIVE).sqrt() }
    }
}

/// Chances adjusted so that looking at many things at once errs no more often than looking at one. Source: Holm 1979.
pub fn holm(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|a, b| chances[*a].total_cmp(&chances[*b]));
    let mut adjusted = vec![1.0; chances.len()];
    let mut before: f64 = 0.0;
    for (rank, index) in order.iter().enumerate() {
        before = before.max((chances[*index] * (chances.len() - rank) as f64).min(1.0));
        adjusted[*index] = before;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: where nothing differs in n pairs the score is n d / sqrt(n d (1 - d)), so that the ends are z2 / (n + z2),
    /// which are Wilson's. Turned round, the interval is turned round.
    #[test]
    fn the_interval_has_the_ends_it_must_have() {
        let pairs = Paired { jobs: 44, worse: 0, better: 0 };
        let z = 1.959_964;
        let found = pairs.interval(z);
        let expected = z * z / (44.0 + z * z);
        assert!((found.high - expected).abs() < 1e-6 && (found.low + expected).abs() < 1e-6, "{found:?}");
        let turned = Paired { jobs: 100, worse: 3, better: 9 }.interval(z);
        let same = Paired { jobs: 100, worse: 9, better: 3 }.interval(z);
        assert!((turned.low + same.high).abs() < 1e-9 && (turned.high + same.low).abs() < 1e-9);
        assert!(same.low < 0.06 && 0.06 < same.high);
    }

    /// Worked by hand: 8 of 8 one way has the chance 2 / 2^8; 5 against 5 is as even as it can be.
    #[test]
    fn the_test_is_exact() {
        assert!((Paired { jobs: 99, worse: 8, better: 0 }.p() - 2.0 / 256.0).abs() < 1e-12);
        assert_eq!(Paired { jobs: 99, worse: 5, better: 5 }.p(), 1.0);
        assert_eq!(Paired { jobs: 99, worse: 0, better: 0 }.p(), 1.0);
        assert!((Paired { jobs: 99, worse: 1, better: 9 }.p() - 22.0 / 1024.0).abs() < 1e-12);
    }

    /// Worked by hand: 0.01 x 3, then 0.02 x 2, then 0.03 x 1 but not below the one before.
    #[test]
    fn many_at_once_are_adjusted() {
        let found = holm(&[0.03, 0.01, 0.02]);
        for (found, expected) in found.iter().zip([0.04, 0.03, 0.04]) {
            assert!((found - expected).abs() < 1e-12);
        }
    }
}
