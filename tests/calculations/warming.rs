//! Invented warm-ups, and how often what the forecast tells of them comes true.

/// What a warm-up does that the forecast can't know, or what the reader makes of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Towards a limit, slower and slower.
    Smooth,
    /// In a straight line.
    Straight,
    /// Slower from one moment to the next, near the window: a thermostat opens to a cooler.
    Slower,
    /// Faster from one moment to the next.
    Faster,
    /// Read in whole degrees Celsius or Fahrenheit.
    Steps,
    /// Rows are missing, once for up to two and a half minutes.
    Gaps,
    /// Three rows in a hundred are far off.
    Wild,
    /// The rate goes up and down by up to a fifth.
    Unsteady,
}

pub const KINDS: [Kind; 8] =
    [Kind::Smooth, Kind::Straight, Kind::Slower, Kind::Faster, Kind::Steps, Kind::Gaps, Kind::Wild, Kind::Unsteady];

pub struct WarmUp {
    /// Seconds and degC.
    pub readings: Vec<(f64, f64)>,
    pub low: f64,
    /// Seconds after the last reading at which the true temperature reaches it.
    pub opens: f64,
}

/// Xorshift with the shifts 13, 7, 17 (Marsaglia 2003, from memory): the same numbers at every run.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn share(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn one_of(&mut self, choices: &[f64]) -> f64 {
        choices[(self.share() * choices.len() as f64) as usize]
    }

    /// Near enough to normal: the sum of twelve.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }
}

/// The true temperature at every second until it has passed `low`, and when it reaches that.
fn truth(kind: Kind, low: f64, chance: &mut Chance) -> (Vec<f64>, f64) {
    let start = chance.between(12.0, 29.0);
    let (limit, constant) = (chance.between(62.0, 95.0), 60.0 * chance.between(10.0, 35.0));
    let kink_at = low - chance.between(-3.0, 8.0);
    let kink = match kind {
        Kind::Slower => chance.between(0.45, 0.9),
        Kind::Faster => chance.between(1.1, 1.5),
        Kind::Steps | Kind::Gaps | Kind::Wild if chance.share() < 0.5 => chance.between(0.6, 1.3),
        _ => 1.0,
    };
    let swing = if kind == Kind::Unsteady { chance.between(0.05, 0.2) } else { 0.0 };
    let (period, phase) = (chance.between(90.0, 400.0), chance.between(0.0, std::f64::consts::TAU));
    let (mut now, mut seconds, mut opens) = (start, Vec::new(), None);
    while seconds.len() < 14_400 && opens.is_none_or(|opens| (seconds.len() as f64) < opens + 5.0) {
        seconds.push(now);
        let towards = if kind == Kind::Straight { 0.6 * (limit - start) } else { limit - now };
        let kinked = if now >= kink_at { kink } else { 1.0 };
        let swung = 1.0 + swing * (seconds.len() as f64 * std::f64::consts::TAU / period + phase).sin();
        let next = now + towards / constant * kinked * swung;
        if opens.is_none() && next >= low {
            opens = Some(seconds.len() as f64 - 1.0 + (low - now) / (next - now));
        }
        now = next;
    }
    (seconds, opens.expect("it warms up"))
}

/// A warm-up, read until between 45 s and 8 min before the window opens.
pub fn warm_up(kind: Kind, chance: &mut Chance) -> WarmUp {
    let low = chance.between(34.0, 40.0);
    let (seconds, opens) = truth(kind, low, chance);
    if opens < 400.0 {
        return warm_up(kind, chance);
    }
    let until = opens - chance.between(45.0, 480.0).min(opens - 200.0);
    let every = chance.one_of(&[1.0, 1.0, 2.0, 5.0, 10.0, 20.0]);
    let noise = chance.between(0.03, 0.3);
    let step = match kind {
        Kind::Steps => chance.one_of(&[1.0, 1.0, 5.0 / 9.0]),
        _ => chance.one_of(&[0.1, 0.1, 0.01, 0.5]),
    };
    let (gap, wide) = (chance.between(30.0, 250.0), chance.between(20.0, 150.0));
    let mut readings = Vec::new();
    let mut at = (until - chance.between(150.0, 600.0)).max(0.0);
    while at <= until {
        let (second, share) = (at as usize, at.fract());
        let true_now = seconds[second] + share * (seconds[second + 1] - seconds[second]);
        let mut shown = ((true_now + noise * chance.normal()) / step).round() * step;
        if kind == Kind::Wild && chance.share() < 0.03 {
            shown += chance.between(3.0, 30.0) * chance.one_of(&[-1.0, 1.0]);
        }
        let before_last = until - at;
        if kind != Kind::Gaps || before_last < gap || before_last > gap + wide {
            readings.push((at, shown));
        }
        let skipped = if kind == Kind::Gaps && chance.share() < 0.05 { 5.0 } else { 1.0 };
        at += every * chance.between(0.9, 1.1) * skipped;
    }
    let Some((last, _)) = readings.last().copied() else { return warm_up(kind, chance) };
    WarmUp { readings, low, opens: opens - last }
}
