//! Between which shares the truth lies, by what was counted.

/// The logarithm of the share of the binomial distribution with `hits` of `count`.
fn log_share(hits: u64, count: u64, share: f64) -> f64 {
    let choose: f64 = (1..=hits).map(|i| ((count - hits + i) as f64 / i as f64).ln()).sum();
    choose + hits as f64 * share.ln() + (count - hits) as f64 * (1.0 - share).ln()
}

/// The chance of `hits` or fewer.
fn at_most(hits: u64, count: u64, share: f64) -> f64 {
    (0..=hits).map(|hits| log_share(hits, count, share).exp()).sum()
}

/// Exact bounds, each with a chance of 2.5 % beyond it. Source: Clopper and Pearson 1934, the tails solved by halving.
pub fn bounds(hits: u64, count: u64) -> (f64, f64) {
    let solve = |high_at: &dyn Fn(f64) -> bool| {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if high_at(middle) { high = middle } else { low = middle }
        }
        (low + high) / 2.0
    };
    let low = if hits == 0 { 0.0 } else { solve(&|share| 1.0 - at_most(hits - 1, count, share) > 0.025) };
    let high = if hits == count { 1.0 } else { solve(&|share| at_most(hits, count, share) < 0.025) };
    (low, high)
}

#[test]
fn the_bounds_are_those_of_the_tables() {
    // Clopper and Pearson's own for 0 and 3 of 10, as printed in many a text: 0 to 30.85 %, 6.67 to 65.25 %.
    for (hits, low, high) in [(0, 0.0, 0.3085), (3, 0.0667, 0.6525), (10, 0.6915, 1.0)] {
        let found = bounds(hits, 10);
        assert!((found.0 - low).abs() < 1e-4 && (found.1 - high).abs() < 1e-4, "{hits}: {found:?}");
    }
}
