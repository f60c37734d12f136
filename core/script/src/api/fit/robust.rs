//! Linear least squares that a few wild values don't pull away.

use super::squares::solve;

pub(super) struct Robust {
    pub x: Vec<f64>,
    /// From 1, counts in full, to 0, counts for nothing.
    pub weights: Vec<f64>,
    pub scatter: f64,
}

/// Rounds of weighing anew; the weights settle long before.
const ROUNDS: usize = 30;
/// Residuals beyond so many times the scatter count for nothing. Source: 95 % as sharp as least squares where the scatter is
/// normal (Beaton and Tukey 1974), from memory.
const REACH: f64 = 4.685;
/// The median of the residuals' sizes times this is the standard deviation, where the scatter is normal.
pub(super) const NORMAL: f64 = 1.4826;

/// Starts from least absolute deviations, which a wild value can't pull, and goes on with Tukey's weights.
/// `least` is the scatter below which nothing is told apart: of a display that counts in steps.
pub(super) fn robust(rows: &[Vec<f64>], y: &[f64], least: f64) -> Option<Robust> {
    let floor = least.max(1e-12 * y.iter().fold(1.0f64, |most, y| most.max(y.abs())));
    let mut weights = vec![1.0; y.len()];
    let mut x = weighted(rows, y, &weights)?;
    for _ in 0..ROUNDS {
        for (weight, rest) in weights.iter_mut().zip(rests(rows, y, &x)) {
            *weight = 1.0 / rest.abs().max(floor);
        }
        x = weighted(rows, y, &weights)?;
    }
    let mut scatter = floor;
    for _ in 0..ROUNDS {
        let rests = rests(rows, y, &x);
        scatter = (NORMAL * median(rests.iter().map(|rest| rest.abs()).collect())).max(floor);
        let next: Vec<f64> = rests
            .iter()
            .map(|rest| {
                let share = rest / (REACH * scatter);
                if share.abs() < 1.0 { (1.0 - share * share).powi(2) } else { 0.0 }
            })
            .collect();
        // So few left that nothing can be told: what there was stands.
        let Some(better) = weighted(rows, y, &next) else { break };
        (x, weights) = (better, next);
    }
    let most = weights.iter().fold(0.0f64, |most, weight| most.max(*weight));
    weights.iter_mut().for_each(|weight| *weight /= most);
    Some(Robust { x, weights, scatter })
}

fn rests(rows: &[Vec<f64>], y: &[f64], x: &[f64]) -> Vec<f64> {
    rows.iter().zip(y).map(|(row, y)| y - row.iter().zip(x).map(|(a, x)| a * x).sum::<f64>()).collect()
}

fn weighted(rows: &[Vec<f64>], y: &[f64], weights: &[f64]) -> Option<Vec<f64>> {
    let roots: Vec<f64> = weights.iter().map(|weight| weight.sqrt()).collect();
    let scaled = rows.iter().zip(&roots).map(|(row, root)| row.iter().map(|a| a * root).collect()).collect();
    solve(scaled, y.iter().zip(&roots).map(|(y, root)| y * root).collect()).map(|solution| solution.x)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    match (values.len() / 2, values.len() % 2) {
        (0, 0) => 0.0,
        (half, 1) => values[half],
        (half, _) => (values[half - 1] + values[half]) / 2.0,
    }
}
