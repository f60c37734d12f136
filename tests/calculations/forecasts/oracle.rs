//! What one could tell who knew every figure of the run and the readings so far, but not how the heat will tremble: a Kalman
//! filter (Kalman 1960) over fluid, metal and the trembling, with the steps of the simulation itself.

use super::bodies::Bodies;
use super::regimes::Run;

type Row = [f64; 4];

/// Over fluid, metal, trembling and 1.
fn step_of(bodies: &Bodies) -> [Row; 3] {
    let across = if bodies.ratio > 0.0 { bodies.coupling } else { 0.0 };
    let ratio = if bodies.ratio > 0.0 { bodies.ratio } else { 1.0 };
    let to_metal = if bodies.ratio > 0.0 { across / ratio } else { 0.0 };
    let metal_loss = if bodies.ratio > 0.0 { bodies.metal_loss / ratio } else { 0.0 };
    [
        [1.0 - across - bodies.fluid_loss, across, bodies.heat, bodies.heat + bodies.fluid_loss * bodies.bay],
        [to_metal, 1.0 - to_metal - metal_loss, 0.0, metal_loss * bodies.bay],
        [0.0, 0.0, (-1.0 / bodies.tremble_for).exp(), 0.0],
    ]
}

struct Known {
    mean: [f64; 3],
    variance: [[f64; 3]; 3],
}

impl Known {
    fn on(&mut self, step: &[Row; 3], drive: f64) {
        let old = self.mean;
        let on = |from: &[[f64; 3]; 3], i: usize, j: usize| (0..3).map(|k| step[i][k] * from[k][j]).sum::<f64>();
        let first = [0, 1, 2].map(|i| [0, 1, 2].map(|j| on(&self.variance, i, j)));
        self.mean = [0, 1, 2].map(|i| step[i][3] + (0..3).map(|j| step[i][j] * old[j]).sum::<f64>());
        self.variance = [0, 1, 2].map(|i| [0, 1, 2].map(|j| (0..3).map(|k| first[i][k] * step[j][k]).sum()));
        self.variance[2][2] += drive;
    }

    fn read(&mut self, value: f64, noise: f64) {
        let all = self.variance[0][0] + noise * noise;
        let gain = [0, 1, 2].map(|i| self.variance[i][0] / all);
        let off = value - self.mean[0];
        let row = self.variance[0];
        for ((mean, gain), variance) in self.mean.iter_mut().zip(gain).zip(&mut self.variance) {
            *mean += gain * off;
            variance.iter_mut().zip(row).for_each(|(value, row)| *value -= gain * row);
        }
    }
}

/// Width between where five and ninety-five in a hundred have it open, in seconds.
pub fn width(run: &Run, ask: f64) -> f64 {
    let bodies = &run.bodies;
    let step = step_of(bodies);
    let drive = bodies.tremble.powi(2) * (1.0 - (-2.0 / bodies.tremble_for).exp());
    let mut variance = [[0.0; 3]; 3];
    variance[2][2] = bodies.tremble.powi(2);
    let mut known = Known { mean: [bodies.fluid, bodies.metal, 0.0], variance };
    let noise = (run.noise.powi(2) + run.step.powi(2) / 12.0).sqrt();
    let mut readings = run.until(ask).iter().peekable();
    let mut second = 0.0;
    while second <= ask {
        while let Some((at, value)) = readings.next_if(|reading| reading.0 < second + 0.5) {
            // Readings within one step of the display share its error: one of them tells all.
            if at.fract() == 0.0 || run.bodies.heat == 0.0 {
                known.read(*value, noise);
            }
        }
        known.on(&step, drive);
        second += 1.0;
    }
    let sign = if bodies.heat > 0.0 { 1.0 } else { -1.0 };
    let (mut from, mut ahead) = (None, 0.0);
    while ahead < 20_000.0 {
        let (gap, spread) = (sign * (known.mean[0] - run.end()), known.variance[0][0].max(0.0).sqrt());
        if from.is_none() && gap + 1.6448536 * spread >= 0.0 {
            from = Some(ahead);
        }
        if gap - 1.6448536 * spread >= 0.0 {
            return ahead - from.unwrap_or(ahead);
        }
        known.on(&step, drive);
        ahead += 1.0;
    }
    f64::INFINITY
}
