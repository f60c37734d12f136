//! The beta distribution, which binomial tails follow.

use crate::halving::inverse;

/// The regularised incomplete beta function I_x(a, b), for a and b above 0.
///
/// Source: continued fraction 26.5.8 of Abramowitz and Stegun, by the method of Lentz; from memory, checked against binomial
/// sums below.
pub fn beta(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        // The fraction comes quickly to its end only on the other side.
        return 1.0 - beta(1.0 - x, b, a);
    }
    let front = a * libm::log(x) + b * libm::log1p(-x) + libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b);
    libm::exp(front) / a * fraction(x, a, b)
}

fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const SMALL: f64 = 1e-300;
    let away = |value: f64| if value.abs() < SMALL { SMALL } else { value };
    let (mut c, mut d) = (1.0, 1.0 / away(1.0 - (a + b) * x / (a + 1.0)));
    let mut result = d;
    // Some 5 sqrt(max(a, b)) terms are enough for counts of millions.
    for m in 1..10_000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        for term in [even, odd] {
            d = 1.0 / away(1.0 + term * d);
            c = away(1.0 + term / c);
            result *= c * d;
        }
        if (c * d - 1.0).abs() < 1e-15 {
            break;
        }
    }
    result
}

/// The x at which I_x(a, b) is this share.
pub fn quantile(share: f64, a: f64, b: f64) -> f64 {
    inverse(|x| beta(x, a, b), share, (0.0, 1.0), 100)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// I_p(k, n - k + 1) is the chance of at least k in n: the sum of the binomial distribution, added up here.
    #[test]
    fn it_is_the_sum_of_binomial_terms() {
        for (n, k, p) in [(10u32, 3u32, 0.2), (40, 1, 0.01), (25, 25, 0.9), (100, 60, 0.5)] {
            let choose = |i: u32| (0..i).fold(1.0, |all, j| all * f64::from(n - j) / f64::from(j + 1));
            let sum: f64 =
                (k..=n).map(|i| choose(i) * f64::powi(p, i as i32) * f64::powi(1.0 - p, (n - i) as i32)).sum();
            let found = beta(p, f64::from(k), f64::from(n - k + 1));
            assert!((found - sum).abs() < 1e-11, "{n} {k} {p}: {found} {sum}");
        }
    }

    #[test]
    fn its_quantile_leads_back() {
        for (share, a, b) in [(0.025, 3.0, 98.0), (0.975, 4.0, 97.0), (0.5, 1.0, 1.0)] {
            assert!((beta(quantile(share, a, b), a, b) - share).abs() < 1e-12);
        }
    }
}
