//! Linear least squares.

/// The best coefficients of a system with more equations than unknowns.
pub(super) struct Solution {
    pub x: Vec<f64>,
    /// The inverse of (A^T A): times the variance of one observation it is the covariance of the coefficients.
    pub inverse: Vec<Vec<f64>>,
    /// Sum of the squares of what is left over.
    pub rest: f64,
}

impl Solution {
    /// Standard errors, from what is left over for each degree of freedom.
    pub fn errors(&self, degrees: usize) -> Vec<f64> {
        let variance = self.rest / degrees as f64;
        (0..self.x.len()).map(|index| (variance * self.inverse[index][index]).max(0.0).sqrt()).collect()
    }
}

/// Below this share of its own length a column adds nothing to those before it.
const DEPENDENT: f64 = 1e-12;

/// By Householder reflections, each column first scaled to length one, so that units of the columns don't matter.
/// `None` if the columns depend on one another or are nothing at all.
/// Source: Golub and Van Loan, Matrix Computations, 5.2 and 5.3, from memory; checked against certified values of NIST.
pub(super) fn solve(mut rows: Vec<Vec<f64>>, mut y: Vec<f64>) -> Option<Solution> {
    let (count, width) = (rows.len(), rows.first()?.len());
    if width == 0 || count < width {
        return None;
    }
    let mut scale = Vec::with_capacity(width);
    for column in 0..width {
        let length = rows.iter().fold(0.0f64, |sum, row| sum.hypot(row[column]));
        if length == 0.0 || !length.is_finite() {
            return None;
        }
        rows.iter_mut().for_each(|row| row[column] /= length);
        scale.push(length);
    }
    for pivot in 0..width {
        reflect(&mut rows, &mut y, pivot)?;
    }
    let mut x = vec![0.0; width];
    for row in (0..width).rev() {
        let known: f64 = (row + 1..width).map(|column| rows[row][column] * x[column]).sum();
        x[row] = (y[row] - known) / rows[row][row];
    }
    let inverse = inverse(&rows, &scale);
    let x = x.iter().zip(&scale).map(|(value, scale)| value / scale).collect();
    Some(Solution { x, inverse, rest: y[width..].iter().map(|value| value * value).sum() })
}

/// Turns the column below the pivot into nothing; what is above the diagonal stays as the triangle.
fn reflect(rows: &mut [Vec<f64>], y: &mut [f64], pivot: usize) -> Option<()> {
    let width = rows[pivot].len();
    let length = rows[pivot..].iter().fold(0.0f64, |sum, row| sum.hypot(row[pivot]));
    if length < DEPENDENT {
        return None;
    }
    let diagonal = if rows[pivot][pivot] > 0.0 { -length } else { length };
    let mut mirror: Vec<f64> = rows[pivot..].iter().map(|row| row[pivot]).collect();
    mirror[0] -= diagonal;
    let square: f64 = mirror.iter().map(|value| value * value).sum();
    for column in pivot..width {
        let along: f64 = mirror.iter().zip(&rows[pivot..]).map(|(mirror, row)| mirror * row[column]).sum();
        for (mirror, row) in mirror.iter().zip(&mut rows[pivot..]) {
            row[column] -= 2.0 * along / square * mirror;
        }
    }
    let along: f64 = mirror.iter().zip(&y[pivot..]).map(|(mirror, y)| mirror * y).sum();
    for (mirror, y) in mirror.iter().zip(&mut y[pivot..]) {
        *y -= 2.0 * along / square * mirror;
    }
    Some(())
}

/// (R^T R)^-1 of the triangle R, with the scaling of the columns undone.
fn inverse(rows: &[Vec<f64>], scale: &[f64]) -> Vec<Vec<f64>> {
    let width = scale.len();
    let mut triangle = vec![vec![0.0; width]; width];
    for column in 0..width {
        triangle[column][column] = 1.0 / rows[column][column];
        for row in (0..column).rev() {
            let known: f64 = (row + 1..=column).map(|inner| rows[row][inner] * triangle[inner][column]).sum();
            triangle[row][column] = -known / rows[row][row];
        }
    }
    let product = |i: usize, j: usize| -> f64 { (0..width).map(|k| triangle[i][k] * triangle[j][k]).sum() };
    (0..width).map(|i| (0..width).map(|j| product(i, j) / scale[i] / scale[j]).collect()).collect()
}
