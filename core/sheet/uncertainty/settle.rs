//! When there have been trials enough.

/// A number of the result over the trials so far, in batches.
#[derive(Default)]
pub struct Series {
    pub all: Vec<f64>,
    /// Standard deviation of each batch.
    batches: Vec<f64>,
}

impl Series {
    pub fn add(&mut self, batch: &[f64]) {
        self.all.extend_from_slice(batch);
        self.batches.push(deviation(batch));
    }

    pub fn mean(&self) -> f64 {
        mean(&self.all)
    }

    pub fn standard(&self) -> f64 {
        deviation(&self.all)
    }

    /// Whether two digits of the standard uncertainty stand: twice the standard deviation of the mean over the batches is
    /// below half a unit of the second digit. Source: JCGM 101:2008 7.9.4, asked of the standard uncertainty alone;
    /// asking it of mean and interval too would need some ten times the trials, for digits nobody reads.
    pub fn is_settled(&self) -> bool {
        let count = self.batches.len() as f64;
        let standard = self.standard();
        if standard == 0.0 || count < 2.0 {
            return count >= 2.0;
        }
        let tolerance = 0.5 * 10f64.powi(standard.log10().floor() as i32 - 1);
        2.0 * deviation(&self.batches) / count.sqrt() < tolerance
    }

    /// The interval with as many trials below as above it. Source: JCGM 101:2008 7.7, from memory.
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let mut sorted = self.all.clone();
        sorted.sort_by(f64::total_cmp);
        let count = sorted.len();
        if count == 0 {
            return (f64::NAN, f64::NAN);
        }
        let inside = ((level * count as f64).round() as usize).clamp(1, count);
        let below = (count - inside) / 2;
        (sorted[below], sorted[(below + inside).min(count - 1)])
    }
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

    #[test]
    fn equal_values_have_no_deviation_and_are_settled_at_once() {
        let mut series = Series::default();
        series.add(&[0.1; 100]);
        assert!(!series.is_settled());
        series.add(&[0.1; 100]);
        assert!(series.is_settled());
        assert_eq!((series.mean(), series.standard(), series.interval(0.95)), (0.1, 0.0, (0.1, 0.1)));
    }

    #[test]
    fn the_interval_holds_the_share_asked_for() {
        let mut series = Series::default();
        let numbers: Vec<f64> = (0..1000).map(f64::from).collect();
        series.add(&numbers);
        assert_eq!(series.interval(0.95), (25.0, 975.0));
        assert!((series.standard() - 288.819_436).abs() < 1e-5);
        assert!((series.mean() - 499.5).abs() < 1e-9);
    }
}
