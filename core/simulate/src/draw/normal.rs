//! The normal distribution by the inverse of its distribution function: one number in, one number out.

use crate::halving::inverse;

/// Beyond so many standard deviations there is nothing: the numbers drawn have 52 bits.
const FAR: f64 = 8.5;

/// The share of a standard normal number below `x`.
pub fn below(x: f64) -> f64 {
    0.5 * libm::erfc(-x / std::f64::consts::SQRT_2)
}

/// The number below which this share of a standard normal lies; `share` between 0 and 1.
///
/// The functions of `libm` give the same bits on every machine.
pub fn quantile(share: f64) -> f64 {
    if share > 0.5 {
        // There is more room for small shares: the other side of the curve.
        return -quantile(1.0 - share);
    }
    inverse(below, share, (-FAR, 0.0), 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// published: table of the standard normal distribution in any handbook (Abramowitz and Stegun, table 26.1 and 26.5).
    #[test]
    fn it_is_that_of_the_tables() {
        for (share, expected) in
            [(0.5, 0.0), (0.975, 1.959_963_984_5), (0.95, 1.644_853_627_0), (0.001, -3.090_232_306_2)]
        {
            assert!((quantile(share) - expected).abs() < 1e-9, "{share}: {}", quantile(share));
        }
        assert!((below(1.0) - 0.841_344_746_1).abs() < 1e-10);
    }
}
