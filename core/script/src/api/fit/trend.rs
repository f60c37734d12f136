//! Where a series stands and how fast it goes, when the rate itself may change.

pub(super) struct Trend {
    pub level: f64,
    pub rate: f64,
    /// Of level, of both together, of rate.
    pub variance: [f64; 3],
}

/// Level and rate at the last x: the rate dies away with the constant `settle` and wanders by `wander` for each root of x,
/// each y is off by its noise.
/// Source: the local linear trend by the Kalman filter (Kalman 1960; Harvey 1989), from memory. Without wander and without end
/// to `settle` it is the weighted straight line, which a test holds it against.
pub(super) fn trend(x: &[f64], y: &[f64], noise: &[f64], wander: f64, settle: f64) -> Option<Trend> {
    let (first, last) = (*x.first()?, *x.last()?);
    let span = last - first;
    if span <= 0.0 {
        return None;
    }
    // Nothing is known before the first value; large beside all that may come, small enough to keep its digits.
    let (low, high) = y.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| (low.min(*y), high.max(*y)));
    let size = (high - low).max(noise.iter().fold(0.0f64, |most, noise| most.max(*noise)));
    let vague = 1e4 * size;
    let mut now = Trend { level: y[0], rate: 0.0, variance: [vague * vague, 0.0, (vague / span).powi(2)] };
    let mut before = first;
    for ((x, y), noise) in x.iter().zip(y).zip(noise) {
        now = now.ahead(x - before, wander, settle);
        before = *x;
        let [level, both, rate] = now.variance;
        let all = level + noise * noise;
        if all <= 0.0 {
            return None;
        }
        let (to_level, to_rate) = (level / all, both / all);
        let off = y - now.level;
        now = Trend {
            level: now.level + to_level * off,
            rate: now.rate + to_rate * off,
            variance: [(1.0 - to_level) * level, (1.0 - to_level) * both, rate - to_rate * both],
        };
    }
    Some(now)
}

impl Trend {
    /// How it stands so much further on, if nothing is read meanwhile.
    pub fn ahead(&self, by: f64, wander: f64, settle: f64) -> Trend {
        let left = (-by / settle).exp();
        // settle (1 - left), and `by` where nothing settles.
        let reach = if settle.is_finite() { -settle * (-by / settle).exp_m1() } else { by };
        let [level, both, rate] = self.variance;
        let [to_level, to_both, to_rate] = wandered(by, settle).map(|share| share * wander * wander);
        Trend {
            level: self.level + self.rate * reach,
            rate: self.rate * left,
            variance: [
                level + 2.0 * reach * both + reach * reach * rate + to_level,
                (both + reach * rate) * left + to_both,
                rate * left * left + to_rate,
            ],
        }
    }
}

/// What a wander of one adds to the variances of level, of both and of rate: the integrals of (settle (1 - e))^2,
/// settle (1 - e) e and e^2 with e = exp(-t / settle). Near zero the differences would lose their digits: there by series.
fn wandered(by: f64, settle: f64) -> [f64; 3] {
    let share = by / settle;
    if share < 1e-3 {
        return [by.powi(3) * (1.0 / 3.0 - share / 4.0), by * by * (1.0 - share) / 2.0, by * (1.0 - share)];
    }
    let (once, twice) = (-(-share).exp_m1(), -(-2.0 * share).exp_m1());
    let square = settle * settle;
    [square * (by - 2.0 * settle * once + settle * twice / 2.0), square * once * once / 2.0, settle * twice / 2.0]
}

/// Means of x and of y over stretches of equal length, and of how many values; stretches without any are left out.
pub(super) fn thin(x: &[f64], y: &[f64], stretches: usize) -> Vec<(f64, f64, usize)> {
    let (Some(first), Some(last)) = (x.first(), x.last()) else { return Vec::new() };
    let span = last - first;
    let mut sums = vec![(0.0, 0.0, 0usize); stretches.max(1)];
    for (x, y) in x.iter().zip(y) {
        let share = if span > 0.0 { (x - first) / span } else { 0.0 };
        let index = ((share * stretches as f64) as usize).min(sums.len() - 1);
        sums[index].0 += x;
        sums[index].1 += y;
        sums[index].2 += 1;
    }
    sums.into_iter()
        .filter(|(_, _, count)| *count > 0)
        .map(|(x, y, count)| (x / count as f64, y / count as f64, count))
        .collect()
}
