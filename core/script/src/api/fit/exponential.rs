//! A value that goes towards a limit: y = limit + (start - limit) exp(-x / constant).

use super::marquardt::{Trouble, minimise};
use super::squares::{Solution, solve};

pub(super) struct Approach {
    pub constant: f64,
    pub limit: f64,
    pub start: f64,
    /// In the same order; the second is 0 for a limit that was given.
    pub errors: [f64; 3],
    pub rest: f64,
    pub degrees: usize,
}

pub(super) enum Unfit {
    /// Too few values for what is asked.
    Few(usize),
    /// They lie on a straight line as far as can be told.
    Straight,
    /// They make their way between two neighbours.
    Sudden,
    /// Nothing changes.
    Unclear,
    /// The search came to no end.
    Endless,
}

/// For a constant that is given the rest is linear, so the constant alone is searched for over a wide grid, and the best
/// of it is where the search for all three begins: no start has to be guessed.
/// Source: separation of the linear unknowns after Golub and Pereyra 1973, from memory; results compared with scipy 1.17.1.
pub(super) fn approach(x: &[f64], y: &[f64], limit: Option<f64>) -> Result<Approach, Unfit> {
    let unknowns = if limit.is_some() { 2 } else { 3 };
    if x.len() <= unknowns {
        return Err(Unfit::Few(unknowns + 1));
    }
    let (low, high) = ends(x);
    let span = high - low;
    if span <= 0.0 {
        return Err(Unfit::Unclear);
    }
    let grid: Vec<f64> = (0..=120).map(|step| span * 10f64.powf(-3.0 + step as f64 / 20.0)).collect();
    let tried: Vec<(f64, f64)> =
        grid.iter().filter_map(|constant| Some((*constant, linear(x, y, limit, *constant, low)?.rest))).collect();
    let best = (0..tried.len()).min_by(|a, b| tried[*a].1.total_cmp(&tried[*b].1)).ok_or(Unfit::Unclear)?;
    if best + 1 == tried.len() {
        return Err(Unfit::Straight);
    }
    if best == 0 {
        return Err(Unfit::Sudden);
    }
    let constant = tried[best].0;
    let linear = linear(x, y, limit, constant, low).ok_or(Unfit::Unclear)?;
    let settled = limit.unwrap_or_else(|| linear.x[1]);
    // The search has its zero at the first value, where the start is well known.
    let begin = settled + linear.x[0];
    let mut rest = |p: &[f64]| -> Result<Vec<f64>, ()> {
        let (constant, start, limit) = (p[0], p[1], limit.unwrap_or_else(|| p[2]));
        if constant <= 0.0 {
            return Err(());
        }
        Ok(x.iter().zip(y).map(|(x, y)| y - limit - (start - limit) * (-(x - low) / constant).exp()).collect())
    };
    let from = if limit.is_some() { vec![constant, begin] } else { vec![constant, begin, settled] };
    let (lowest, highest) = ends(y);
    let typical = [constant, highest - lowest, highest - lowest];
    let (found, solution) = minimise(&from, &typical[..unknowns], &mut rest).map_err(|trouble| match trouble {
        Trouble::Dependent => Unfit::Straight,
        Trouble::Failed(()) => Unfit::Unclear,
        Trouble::Endless => Unfit::Endless,
    })?;
    Ok(at_zero(&found, &solution, limit, low, x.len() - unknowns))
}

/// The start at x = 0 and its standard error, from those at the first value.
fn at_zero(found: &[f64], solution: &Solution, limit: Option<f64>, low: f64, degrees: usize) -> Approach {
    let (constant, first) = (found[0], found[1]);
    let settled = limit.unwrap_or_else(|| found[2]);
    let growth = (low / constant).exp();
    let start = settled + (first - settled) * growth;
    let gradient = [-(first - settled) * growth * low / (constant * constant), growth, 1.0 - growth];
    let variance = solution.rest / degrees as f64;
    let mut spread = 0.0;
    for i in 0..found.len() {
        for j in 0..found.len() {
            spread += gradient[i] * gradient[j] * solution.inverse[i][j];
        }
    }
    let errors = solution.errors(degrees);
    let of_limit = if limit.is_some() { 0.0 } else { errors[2] };
    Approach {
        constant,
        limit: settled,
        start,
        errors: [errors[0], of_limit, (variance * spread.max(0.0)).sqrt()],
        rest: solution.rest,
        degrees,
    }
}

/// Amplitude at the first value and limit that fit best with this constant.
fn linear(x: &[f64], y: &[f64], limit: Option<f64>, constant: f64, low: f64) -> Option<Solution> {
    let falling = |x: &f64| (-(x - low) / constant).exp();
    match limit {
        Some(limit) => solve(x.iter().map(|x| vec![falling(x)]).collect(), y.iter().map(|y| y - limit).collect()),
        None => solve(x.iter().map(|x| vec![falling(x), 1.0]).collect(), y.to_vec()),
    }
}

fn ends(x: &[f64]) -> (f64, f64) {
    x.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(*x), high.max(*x)))
}
