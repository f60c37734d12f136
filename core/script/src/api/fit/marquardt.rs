//! Least squares where the unknowns don't stand in a line.

use super::squares::{Solution, solve};

pub(super) enum Trouble<E> {
    /// The function failed where the search began.
    Failed(E),
    /// One of the unknowns makes no difference, or two make the same.
    Dependent,
    /// The search went on and on.
    Endless,
}

/// What is left over at each observation, observed less computed.
type Rest<'a, E> = dyn FnMut(&[f64]) -> Result<Vec<f64>, E> + 'a;

const ROUNDS: usize = 200;
/// A step that changes no unknown by more than this share ends the search.
const STEP: f64 = 1e-12;
/// Squares that shrink by no more than this share in so many rounds are at their least as far as rounding lets it be told: without
/// this the search goes to and fro for ever where a step never gets as small as that.
const GAIN: f64 = 1e-11;
const IDLE: usize = 4;
/// Where the curve goes through every value, what is left over is rounding, which shrinks and grows by chance and lets no step get
/// as small as `STEP`: in the end one of this share is small enough.
const NEAR: f64 = 1e-8;

/// The unknowns for which the squares of what is left over add up to the least, found from a start;
/// `typical` says how large each is, where it may come near to zero.
/// The linear system of the last step comes with it, for the standard errors.
/// Source: Levenberg 1944 and Marquardt 1963, each step solved as a least-squares system with damping rows (More 1978), from
/// memory; checked against certified values of NIST.
pub(super) fn minimise<E>(
    start: &[f64],
    typical: &[f64],
    rest: &mut Rest<'_, E>,
) -> Result<(Vec<f64>, Solution), Trouble<E>> {
    let mut at = start.to_vec();
    let mut left = rest(&at).map_err(Trouble::Failed)?;
    let mut least = squared(&left);
    let (mut damping, mut idle, mut near) = (1e-3, 0, false);
    let mut rows = slopes(&at, typical, rest).map_err(Trouble::Failed)?;
    let mut weight = vec![0.0; at.len()];
    heavier(&mut weight, &rows);
    solve(rows.clone(), left.clone()).ok_or(Trouble::Dependent)?;
    for _ in 0..ROUNDS {
        let step = damped(&rows, &left, damping, &weight).ok_or(Trouble::Dependent)?;
        let next: Vec<f64> = at.iter().zip(&step).map(|(value, step)| value + step).collect();
        let within = |share: f64| {
            step.iter().zip(at.iter().zip(typical)).all(|(step, (value, typical))| {
                // An unknown that is nothing but noise around zero is measured by where the search began.
                step.abs() <= share * value.abs().max(typical * 1e-6)
            })
        };
        let still = within(STEP);
        near = within(NEAR);
        // A place where the function can't be told, or where an unknown makes no difference, is as bad as one far off.
        let better = rest(&next).ok().filter(|left| squared(left) <= least).and_then(|left| {
            let rows = slopes(&next, typical, rest).ok()?;
            solve(rows.clone(), left.clone())?;
            Some((left, rows))
        });
        match better {
            Some(there) => {
                at = next;
                (left, rows) = there;
                let before = std::mem::replace(&mut least, squared(&left));
                idle = if before - least <= GAIN * before { idle + 1 } else { 0 };
                damping = (damping / 10.0).max(1e-15);
                heavier(&mut weight, &rows);
            }
            None => damping *= 10.0,
        }
        if still || idle >= IDLE || damping > 1e15 {
            let solution = solve(rows, left).ok_or(Trouble::Dependent)?;
            return Ok((at, Solution { rest: least, ..solution }));
        }
    }
    if near {
        let solution = solve(rows, left).ok_or(Trouble::Dependent)?;
        return Ok((at, Solution { rest: least, ..solution }));
    }
    Err(Trouble::Endless)
}

fn squared(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum()
}

/// How each observation's computed value changes with each unknown, by differences to both sides.
fn slopes<E>(at: &[f64], typical: &[f64], rest: &mut Rest<'_, E>) -> Result<Vec<Vec<f64>>, E> {
    let mut columns = Vec::with_capacity(at.len());
    for index in 0..at.len() {
        let width = f64::EPSILON.cbrt() * at[index].abs().max(1e-3 * typical[index]);
        let (mut below, mut above) = (at.to_vec(), at.to_vec());
        below[index] -= width;
        above[index] += width;
        let across = above[index] - below[index];
        let (low, high) = (rest(&below)?, rest(&above)?);
        columns.push(low.iter().zip(&high).map(|(low, high)| (low - high) / across).collect::<Vec<f64>>());
    }
    let count = columns.first().map_or(0, Vec::len);
    Ok((0..count).map(|row| columns.iter().map(|column| column[row]).collect()).collect())
}

/// An unknown keeps the largest weight it ever had: where it suddenly makes hardly any difference, the step in it must not
/// become endless.
fn heavier(weight: &mut [f64], rows: &[Vec<f64>]) {
    for (column, weight) in weight.iter_mut().enumerate() {
        *weight = weight.max(rows.iter().fold(0.0f64, |sum, row| sum.hypot(row[column])));
    }
}

fn damped(rows: &[Vec<f64>], left: &[f64], damping: f64, weight: &[f64]) -> Option<Vec<f64>> {
    let (mut rows, mut left) = (rows.to_vec(), left.to_vec());
    for (column, weight) in weight.iter().enumerate() {
        let mut row = vec![0.0; rows.first()?.len()];
        row[column] = damping.sqrt() * weight;
        rows.push(row);
        left.push(0.0);
    }
    solve(rows, left).map(|solution| solution.x)
}
