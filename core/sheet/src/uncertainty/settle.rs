//! When there have been trials enough.

/// A number of the result over the trials so far, in batches.
#[derive(Default)]
pub struct Series {
    pub all: Vec<f64>,
    batches: Vec<Summary>,
}

/// What a batch by itself would give as the result.
#[derive(Clone, Copy)]
pub struct Summary {
    mean: f64,
    standard: f64,
    low: f64,
    high: f64,
}

/// What the interval of a result holds.
pub const LEVEL: f64 = 0.95;

impl Summary {
    /// Orders the batch: to be done where the batch is made, on as many threads.
    pub fn of(batch: &[f64]) -> Self {
        let (low, high) = interval(batch, LEVEL);
        Self { mean: mean(batch), standard: deviation(batch), low, high }
    }
}

impl Series {
    pub fn add(&mut self, batch: &[f64], summary: Summary) {
        self.all.extend_from_slice(batch);
        self.batches.push(summary);
    }

    pub fn mean(&self) -> f64 {
        mean(&self.all)
    }

    pub fn standard(&self) -> f64 {
        deviation(&self.all)
    }

    /// Whether the numbers stand: twice the standard deviation of their mean over the batches is below half a unit of a
    /// digit of the standard uncertainty. Source: JCGM 101:2008 7.9.4 (from memory), with one digit for the mean and both
    /// ends of the interval, and two for the standard uncertainty itself, which is shown with two.
    pub fn is_settled(&self) -> bool {
        let count = self.batches.len() as f64;
        let standard = self.standard();
        if standard == 0.0 || count < 2.0 {
            return count >= 2.0;
        }
        let digit = 0.5 * 10f64.powi(standard.log10().floor() as i32);
        let stands = |number: fn(&Summary) -> f64, tolerance: f64| {
            let numbers: Vec<f64> = self.batches.iter().map(number).collect();
            2.0 * deviation(&numbers) / count.sqrt() < tolerance
        };
        stands(|batch| batch.standard, digit / 10.0)
            && stands(|batch| batch.mean, digit)
            && stands(|batch| batch.low, digit)
            && stands(|batch| batch.high, digit)
    }

    /// The interval with as many trials below as above it. Source: JCGM 101:2008 7.7, from memory.
    pub fn interval(&self, level: f64) -> (f64, f64) {
        interval(&self.all, level)
    }
}

fn interval(values: &[f64], level: f64) -> (f64, f64) {
    let mut values = values.to_vec();
    let count = values.len();
    if count == 0 {
        return (f64::NAN, f64::NAN);
    }
    let inside = ((level * count as f64).round() as usize).clamp(1, count);
    let below = (count - inside) / 2;
    let above = (below + inside).min(count - 1);
    // Only these two need their places.
    let (smaller, high, _) = values.select_nth_unstable_by(above, f64::total_cmp);
    let high = *high;
    if above == below {
        return (high, high);
    }
    let (_, low, _) = smaller.select_nth_unstable_by(below, f64::total_cmp);
    (*low, high)
}

fn mean(values: &[f64]) -> f64 {
    // Around the first value: numbers that differ in their last digits only would lose these.
    let Some(first) = values.first() else { return f64::NAN };
    first + values.iter().map(|value| value - first).sum::<f64>() / values.len() as f64
}

fn deviation(values: &[f64]) -> f64 {
    let mean = mean(values);
    let squares = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    if values.len() < 2 { 0.0 } else { (squares / (values.len() - 1) as f64).sqrt() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn add(series: &mut Series, batch: &[f64]) {
        series.add(batch, Summary::of(batch));
    }

    #[test]
    fn equal_values_have_no_deviation_and_are_settled_at_once() {
        let mut series = Series::default();
        add(&mut series, &[0.1; 100]);
        assert!(!series.is_settled());
        add(&mut series, &[0.1; 100]);
        assert!(series.is_settled());
        assert_eq!((series.mean(), series.standard(), series.interval(0.95)), (0.1, 0.0, (0.1, 0.1)));
    }

    #[test]
    fn an_interval_that_wanders_is_not_settled_though_its_spread_is() {
        let mut series = Series::default();
        for shift in [-3.0, 3.0, -3.0, 3.0] {
            let batch: Vec<f64> = (0..1000).map(|number| f64::from(number % 100) / 10.0 + shift).collect();
            add(&mut series, &batch);
        }
        let spreads: Vec<f64> = series.batches.iter().map(|batch| batch.standard).collect();
        assert!(deviation(&spreads) < 1e-9 && !series.is_settled());
    }

    #[test]
    fn the_interval_holds_the_share_asked_for() {
        let mut series = Series::default();
        let numbers: Vec<f64> = (0..1000).map(f64::from).collect();
        add(&mut series, &numbers);
        assert_eq!(series.interval(0.95), (25.0, 975.0));
        assert!((series.standard() - 288.819_436).abs() < 1e-5);
        assert!((series.mean() - 499.5).abs() < 1e-9);
    }
}
