//! The same work in plain Rust over f64, without units: the limit.

use std::hint::black_box;
use std::io::Read;

fn viscosity(kv40: f64, kv100: f64, celsius: f64) -> f64 {
    let w = |v: f64| (v + 0.7).log10().log10();
    let t = |celsius: f64| (celsius + 273.15).log10();
    let slope = (w(kv40) - w(kv100)) / (t(100.0) - t(40.0));
    10f64.powf(10f64.powf(w(kv40) - slope * (t(celsius) - t(40.0)))) - 0.7
}

fn factor(density: f64, celsius: f64) -> f64 {
    let growth = 0.6278 / density * (celsius - 15.0);
    (-growth * (1.0 + 0.8 * growth)).exp()
}

fn volume(volume: f64, at: f64, to: f64, density: f64) -> f64 {
    volume * factor(density, at) / factor(density, to)
}

/// The formula of a sheet, where there is one to speak of.
pub fn of(sheet: &str) -> Option<fn() -> f64> {
    Some(match sheet {
        "viscosity-at-temperature" => || viscosity(black_box(28.2), black_box(5.7), black_box(60.0)),
        "volume-correction" => || factor(black_box(850.0), black_box(40.0)),
        "volume-at-temperature" => || volume(black_box(7.0), black_box(40.0), black_box(15.0), black_box(850.0)),
        "volume-from-mass" => || black_box(5.23) / black_box(850.0) / factor(black_box(850.0), black_box(20.0)),
        "wrench-setting" => {
            || black_box(8.5) * black_box(0.3) / (black_box(0.3) + black_box(0.05) * black_box(0f64).cos())
        }
        _ => return None,
    })
}

const GRAVITY: f64 = 9.80665;

/// What the sheet takes for one hose; its roughness matters only beyond laminar flow, which the bench does not reach.
struct Hose {
    volume: f64,
    head: f64,
    length: f64,
    bore: f64,
    viscosity: f64,
    entrance_loss: f64,
    exit_loss: f64,
    patience: f64,
}

impl Hose {
    fn unknown() -> Self {
        Self {
            volume: black_box(0.004),
            head: black_box(0.8),
            length: black_box(1.5),
            bore: black_box(0.01),
            viscosity: black_box(0.0001),
            entrance_loss: black_box(0.5),
            exit_loss: black_box(1.0),
            patience: black_box(900.0),
        }
    }

    fn area(&self) -> f64 {
        std::f64::consts::PI * self.bore * self.bore / 4.0
    }

    fn reynolds(&self, flow: f64) -> f64 {
        flow / self.area() * self.bore / self.viscosity
    }

    /// Laminar flow under a head, and its Reynolds number.
    fn flow(&self, head: f64) -> (f64, f64) {
        let b = 128.0 * self.viscosity * self.length / (std::f64::consts::PI * self.bore.powi(4));
        let a = self.entrance_loss / 2.0 / self.area().powi(2) + self.exit_loss / 2.0 / self.area().powi(2);
        let drive = GRAVITY * head;
        let flow = 2.0 * drive / (b + (b * b + 4.0 * a * drive).sqrt());
        let reynolds = self.reynolds(flow);
        assert!(reynolds <= 2000.0);
        (flow, reynolds)
    }

    fn advice(&self, time: f64) -> &'static str {
        if time <= self.patience { "gravity" } else { "pump" }
    }

    /// Flow, Reynolds number, time and advice while the head stays.
    fn still(&self) -> (f64, f64, f64, &'static str) {
        let (flow, reynolds) = self.flow(self.head);
        let time = self.volume / flow;
        (flow, reynolds, time, self.advice(time))
    }

    /// The same while the head falls: Simpson's rule over its logarithm.
    fn falling(&self, end: f64) -> (f64, f64, f64, &'static str) {
        let (start, reynolds) = self.flow(self.head);
        let share = (self.head / end).ln() / 8.0;
        let base = self.volume / (self.head - end);
        let mut whole = 0.0;
        for step in 0..=8 {
            let now = self.head * (-f64::from(step) * share).exp();
            let weight = if step == 0 || step == 8 {
                1.0
            } else if step % 2 == 1 {
                4.0
            } else {
                2.0
            };
            whole += weight * base * now / self.flow(now).0;
        }
        let time = whole * share / 3.0;
        (start, reynolds, time, self.advice(time))
    }
}

fn preload(torque: f64, pitch: f64, middle: f64, head: f64, thread_friction: f64, head_friction: f64) -> f64 {
    let arm = pitch / (2.0 * std::f64::consts::PI)
        + thread_friction * middle / (2.0 * 30f64.to_radians().cos())
        + head_friction * head / 2.0;
    torque / arm
}

fn level(volume: f64, set: f64, reference: f64, density: f64, case: f64) -> (f64, &'static str) {
    let filled = volume * (1.0 + 3.0 * case * (set - reference));
    let error = filled * factor(density, set) / factor(density, reference) - volume;
    let side = match error {
        over if over > 0.0 => "over",
        short if short < 0.0 => "short",
        _ => "neither",
    };
    (error, side)
}

/// What the sheet works out with the inputs of [`super::ways`], all of them unknown to the compiler. Temperatures count from
/// 0 degC here, and from 0 K in a program.
pub fn with(sheet: &str) -> fn() {
    match sheet {
        "viscosity-at-temperature" => || {
            black_box(viscosity(black_box(28.2), black_box(5.7), black_box(60.0)));
        },
        "volume-at-temperature" => || {
            black_box(volume(black_box(7.0), black_box(40.0), black_box(15.0), black_box(850.0)));
        },
        "level-error-from-temperature" => || {
            let (volume, set, reference) = (black_box(7.0), black_box(50.0), black_box(40.0));
            black_box(level(volume, set, reference, black_box(850.0), black_box(0.000023)));
        },
        "gravity-fill" => || {
            black_box(Hose::unknown().still());
        },
        "gravity-fill, falling head" => || {
            black_box(Hose::unknown().falling(black_box(0.4)));
        },
        _ => || {
            let (torque, pitch, middle, head) =
                (black_box(8.5), black_box(0.001), black_box(0.00535), black_box(0.0088));
            black_box(preload(torque, pitch, middle, head, black_box(0.12), black_box(0.12)));
        },
    }
}

/// Reads the table, computes, writes a table; how many bytes it wrote.
pub fn table(rows: impl Read, count: u64) -> usize {
    let mut reader = csv::Reader::from_reader(rows);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut record = csv::StringRecord::new();
    let mut bytes = 0;
    let mut seen = 0;
    while reader.read_record(&mut record).unwrap() {
        let number = |index: usize| record[index].parse::<f64>().unwrap();
        let result = viscosity(number(0), number(1), number(2));
        for cell in &record {
            writer.write_field(cell).unwrap();
        }
        writer.write_field(result.to_string()).unwrap();
        writer.write_record(None::<&[u8]>).unwrap();
        seen += 1;
        if seen % 256 == 0 {
            bytes += writer.into_inner().unwrap().len();
            writer = csv::Writer::from_writer(Vec::new());
        }
    }
    assert_eq!(seen, count);
    bytes + writer.into_inner().unwrap().len()
}

/// The standard deviation of the volume over the trials.
pub fn trials(count: u64) -> f64 {
    let mut state = [1u64, 2, 3, 4];
    let mut uniform = move || {
        let result = state[0].wrapping_add(state[3]).rotate_left(23).wrapping_add(state[0]);
        let t = state[1] << 17;
        state[2] ^= state[0];
        state[3] ^= state[1];
        state[1] ^= state[2];
        state[0] ^= state[3];
        state[2] ^= t;
        state[3] = state[3].rotate_left(45);
        ((result >> 12) as f64 + 0.5) / (1u64 << 52) as f64
    };
    let results: Vec<f64> = (0..count)
        .map(|_| {
            let radius = (-2.0 * uniform().ln()).sqrt();
            let (sine, cosine) = (2.0 * std::f64::consts::PI * uniform()).sin_cos();
            let filled = 7.0 + 0.05 * (2.0 * uniform() - 1.0);
            volume(filled, 40.0 + radius * sine, 15.0, 850.0 + 5.0 * radius * cosine)
        })
        .collect();
    let mean = results.iter().sum::<f64>() / count as f64;
    (results.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / (count - 1) as f64).sqrt()
}
