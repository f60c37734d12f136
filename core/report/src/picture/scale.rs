//! From values to places on paper, with round numbers along the edge.

/// Straight or by powers; `from` may lie on either side of `to` on paper.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
    by_powers: bool,
}

impl Scale {
    pub fn new(low: f64, high: f64, from: f64, to: f64) -> Self {
        let high = if high > low { high } else { low + 1.0 };
        Self { low, high, from, to, by_powers: false }
    }

    /// By powers of ten; both ends lie above zero.
    pub fn by_powers(low: f64, high: f64, from: f64, to: f64) -> Self {
        Self { by_powers: low > 0.0, ..Self::new(low, high, from, to) }
    }

    pub fn place(&self, value: f64) -> f64 {
        let share = if self.by_powers {
            (value.max(self.low * 1e-3).ln() - self.low.ln()) / (self.high.ln() - self.low.ln())
        } else {
            (value - self.low) / (self.high - self.low)
        };
        self.from + share * (self.to - self.from)
    }

    /// About so many round values between the ends.
    pub fn ticks(&self, about: usize) -> Vec<f64> {
        if self.by_powers {
            let steps = [1.0, 2.0, 5.0];
            let powers = self.low.log10().floor() as i32..=self.high.log10().ceil() as i32;
            let all = powers.flat_map(|power| steps.map(|step| step * 10f64.powi(power)));
            return all.filter(|tick| (self.low..=self.high).contains(tick)).collect();
        }
        let step = round_step((self.high - self.low) / about.max(1) as f64);
        multiples(self.low, self.high, step)
    }
}

pub(super) fn round_step(rough: f64) -> f64 {
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(|step| step * power >= rough * 0.999).unwrap_or(10.0);
    step * power
}

pub(super) fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).take(50).map(|n| n as f64 * step).collect()
}

/// Without idle zeros.
pub(super) fn plain(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.replace('-', "\u{2212}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_lie_inside() {
        assert_eq!(Scale::new(18.0, 47.0, 0.0, 1.0).ticks(5), [20.0, 30.0, 40.0]);
        assert_eq!(Scale::by_powers(4.0, 300.0, 0.0, 1.0).ticks(5), [5.0, 10.0, 20.0, 50.0, 100.0, 200.0]);
        assert_eq!(multiples(0.0, 1.0, 0.5), [0.0, 0.5, 1.0]);
    }

    #[test]
    fn both_ends_lie_where_they_belong() {
        let scale = Scale::new(0.0, 10.0, 100.0, 0.0);
        assert_eq!([scale.place(0.0), scale.place(5.0), scale.place(10.0)], [100.0, 50.0, 0.0]);
        let scale = Scale::by_powers(1.0, 100.0, 0.0, 2.0);
        assert!((scale.place(10.0) - 1.0).abs() < 1e-12);
        assert_eq!([plain(-0.001), plain(0.5), plain(-2.0)], ["0", "0.5", "\u{2212}2"]);
    }
}
