//! A share of jobs with its interval.

use super::beta::quantile;

/// From what to what a share may lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

/// The exact interval of Clopper and Pearson (1934) for `count` of `jobs`: in at least 1 - `alpha` of all tables the true
/// share lies within it. Of no jobs nothing is known: from 0 to 1.
pub fn interval(count: u64, jobs: u64, alpha: f64) -> Interval {
    let (k, n) = (count as f64, jobs as f64);
    if jobs == 0 {
        return Interval { low: 0.0, high: 1.0 };
    }
    Interval {
        low: if count == 0 { 0.0 } else { quantile(alpha / 2.0, k, n - k + 1.0) },
        high: if count >= jobs { 1.0 } else { quantile(1.0 - alpha / 2.0, k + 1.0, n - k) },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// published: none in ten gives 0..0.3085 and three in ten 0.0667..0.6525 in tables of exact 95 % limits (Altman and
    /// others, Statistics with confidence; from memory). For no success the upper end is 1 - (alpha/2)^(1/n) exactly.
    #[test]
    fn it_is_that_of_published_tables() {
        let three = interval(3, 10, 0.05);
        assert!((three.low - 0.0667).abs() < 5e-5 && (three.high - 0.6525).abs() < 5e-5, "{three:?}");
        let none = interval(0, 10, 0.05);
        assert!(none.low == 0.0 && (none.high - 0.3085).abs() < 5e-5, "{none:?}");
        for jobs in [1, 50, 20_000] {
            let exact = 1.0 - libm::pow(0.025, 1.0 / jobs as f64);
            assert!((interval(0, jobs, 0.05).high - exact).abs() < 1e-12);
            assert!((interval(jobs, jobs, 0.05).low - (1.0 - exact)).abs() < 1e-12);
        }
    }

    /// Its promise, worked out: over all tables of 60 jobs the true share lies within in at least 95 of 100.
    #[test]
    fn it_covers_what_it_says() {
        let jobs = 60u32;
        for tenths in 1..20 {
            let share = f64::from(tenths) * 0.025;
            let mut term = f64::powi(1.0 - share, jobs as i32);
            let mut covered = 0.0;
            for count in 0..=jobs {
                let found = interval(u64::from(count), u64::from(jobs), 0.05);
                covered += if (found.low..=found.high).contains(&share) { term } else { 0.0 };
                term *= share / (1.0 - share) * f64::from(jobs - count) / f64::from(count + 1);
            }
            assert!(covered >= 0.95, "{share}: {covered}");
        }
    }

    #[test]
    fn of_no_jobs_nothing_is_known() {
        assert_eq!(interval(0, 0, 0.05), Interval { low: 0.0, high: 1.0 });
    }
}
