//! Readings made fewer without losing what they say.

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

/// How far each y but the first and the last lies off the line between its neighbours, over the root of the squares of the three
/// weights: where each scatters by itself, so much as one of them does.
pub(super) fn beside(x: &[f64], y: &[f64]) -> Vec<f64> {
    x.windows(3)
        .zip(y.windows(3))
        .map(|(x, y)| {
            let share = (x[1] - x[0]) / (x[2] - x[0]);
            let off = y[1] - y[0] - share * (y[2] - y[0]);
            off.abs() / (1.0 + share * share + (1.0 - share) * (1.0 - share)).sqrt()
        })
        .collect()
}

/// Where a value that is shown in steps goes from one to the next: x between the two readings, y halfway between the steps.
/// There a coarse display tells far more than in between. Where it goes to and fro for a while it is one place, in the middle
/// of them; a while is `within`.
/// Source: own design.
pub(super) fn edges(x: &[f64], y: &[f64], within: f64) -> Vec<(f64, f64, usize)> {
    let mut found: Vec<(f64, f64, usize, f64)> = Vec::new();
    for (xs, ys) in x.windows(2).zip(y.windows(2)) {
        if ys[0] == ys[1] {
            continue;
        }
        let (at, level) = ((xs[0] + xs[1]) / 2.0, (ys[0] + ys[1]) / 2.0);
        let alike = 1e-6 * (ys[1] - ys[0]).abs();
        match found.last_mut() {
            Some((sum, of, count, first)) if (*of - level).abs() <= alike && at - *first <= within => {
                *sum += at;
                *count += 1;
            }
            _ => found.push((at, level, 1, at)),
        }
    }
    found.into_iter().map(|(sum, level, count, _)| (sum / count as f64, level, count)).collect()
}
