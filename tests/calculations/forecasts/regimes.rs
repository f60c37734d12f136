//! Invented runs of every regime: what the fluid does, what the reader makes of it, and when the window opens.

use super::bodies::{Bodies, Change};
use super::chance::Chance;

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Regime {
    /// One body that warms.
    Single,
    /// A fan that comes and goes.
    Fan,
    /// A fan that comes once, later.
    FanLater,
    /// The engine idles faster or slower from one moment on.
    IdleStep,
    /// A thermostat or bypass opens to a cooler.
    Bypass,
    /// Fluid that heats ahead of its metal.
    Ahead,
    /// The same, shown in whole degrees Celsius.
    AheadSteps,
    AheadBypass,
    AheadIdleStep,
    AheadFan,
    /// Engine off: one body that cools.
    Off,
    /// The same, of fluid and metal.
    OffTwo,
    /// Typed about every 30 s, one body or two.
    ByHand,
    /// Three readings in a hundred are far off.
    Wild,
    /// The bay gets warmer or colder all the time.
    Drift,
    /// A door is opened once.
    Door,
}

pub const REGIMES: [Regime; 16] = [
    Regime::Single,
    Regime::Fan,
    Regime::FanLater,
    Regime::IdleStep,
    Regime::Bypass,
    Regime::Ahead,
    Regime::AheadSteps,
    Regime::AheadBypass,
    Regime::AheadIdleStep,
    Regime::AheadFan,
    Regime::Off,
    Regime::OffTwo,
    Regime::ByHand,
    Regime::Wild,
    Regime::Drift,
    Regime::Door,
];

/// What the invented figures lie between; the second set is kept for the last look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Figures {
    Tuned,
    Others,
}

pub struct Run {
    /// As it was at the start.
    pub bodies: Bodies,
    pub low: f64,
    pub high: f64,
    pub opens: f64,
    /// When what nothing foretells happens, and when it shows.
    pub change: Option<f64>,
    pub visible: Option<f64>,
    pub readings: Vec<(f64, f64)>,
    pub noise: f64,
    pub step: f64,
}

impl Run {
    pub fn until(&self, ask: f64) -> &[(f64, f64)] {
        &self.readings[..self.readings.partition_point(|reading| reading.0 <= ask)]
    }

    pub fn end(&self) -> f64 {
        if self.bodies.heat > 0.0 { self.low } else { self.high }
    }
}

/// In K/min, where a warm-up reaches the window: slower, and it hardly gets there; a trembling heat decides when.
const SLOWEST: f64 = 0.3;
const LONGEST: usize = 4 * 3600;

/// One that opens between six minutes and three hours after the first reading.
pub fn run(regime: Regime, figures: Figures, chance: &mut Chance) -> Run {
    loop {
        if let Some(run) = attempt(regime, figures, chance) {
            return run;
        }
    }
}

fn two(regime: Regime, chance: &mut Chance) -> bool {
    use Regime::*;
    match regime {
        Ahead | AheadSteps | AheadBypass | AheadIdleStep | AheadFan | OffTwo => true,
        ByHand | Wild | Drift | Door => chance.share() < 0.5,
        _ => false,
    }
}

fn bodies(regime: Regime, figures: Figures, chance: &mut Chance) -> Bodies {
    let others = figures == Figures::Others;
    let two = two(regime, chance);
    let off = matches!(regime, Regime::Off | Regime::OffTwo) || (regime == Regime::Door && chance.share() < 0.5);
    let bay = if others { chance.between(5.0, 32.0) } else { chance.between(12.0, 28.0) };
    let ratio = match (two, others) {
        (false, _) => 0.0,
        (true, false) => chance.between(1.0, 4.0),
        (true, true) => chance.between(0.6, 5.0),
    };
    let all = 1.0 + ratio;
    let constant = 60.0
        * match (off, others) {
            (false, false) => chance.between(10.0, 35.0),
            (false, true) => chance.between(8.0, 50.0),
            (true, false) => chance.between(40.0, 150.0),
            (true, true) => chance.between(30.0, 200.0),
        };
    let coupling = 1.0 / (60.0 * if others { chance.between(0.7, 7.0) } else { chance.between(1.0, 5.0) });
    // Where it would settle, and what that takes.
    let settles = if others { chance.between(52.0, 115.0) } else { chance.between(60.0, 100.0) };
    let loss = all / constant;
    let of_fluid = if two { chance.between(0.2, 0.6) } else { 1.0 };
    let start = if off { chance.between(70.0, 95.0) } else { bay + chance.between(-1.0, 3.0) };
    let metal = if off { start - chance.between(3.0, 15.0) } else { start };
    Bodies {
        fluid: start,
        metal: if two { metal } else { start },
        bay,
        ratio,
        coupling,
        fluid_loss: loss * of_fluid,
        metal_loss: loss * (1.0 - of_fluid),
        heat: if off { 0.0 } else { loss * (settles - bay) },
        tremble: if off { 0.0 } else { chance.between(0.02, 0.06) },
        tremble_for: chance.between(40.0, if others { 400.0 } else { 240.0 }),
        trembling: 0.0,
    }
}

/// What happens, and where or when: a moment, or a temperature.
enum When {
    Never,
    At(f64),
    Above(f64),
}

fn attempt(regime: Regime, figures: Figures, chance: &mut Chance) -> Option<Run> {
    let others = figures == Figures::Others;
    let bodies = bodies(regime, figures, chance);
    let off = bodies.heat == 0.0;
    let (low, wide) = if off {
        (chance.between(38.0, 50.0), chance.between(6.0, 12.0))
    } else if others {
        (chance.between(30.0, 48.0), chance.between(4.0, 14.0))
    } else {
        (chance.between(34.0, 42.0), 8.0)
    };
    let high = low + wide;
    let end = if off { high } else { low };
    let none = Change { heat: 1.0, loss: 1.0, bay: 0.0 };
    let about = chance.between(0.0, 1.0);
    let (when, change) = match regime {
        Regime::FanLater => {
            (When::At(about), Change { loss: chance.between(1.2, if others { 2.5 } else { 2.0 }), ..none })
        }
        Regime::IdleStep | Regime::AheadIdleStep => {
            let heat = if chance.share() < 0.5 { chance.between(0.65, 0.85) } else { chance.between(1.15, 1.5) };
            (When::At(about), Change { heat, ..none })
        }
        Regime::Bypass | Regime::AheadBypass => {
            let at = low - chance.between(1.0, 10.0);
            (When::Above(at), Change { loss: chance.between(1.2, if others { 2.5 } else { 2.0 }), ..none })
        }
        Regime::Door => {
            let bay = -chance.between(4.0, 12.0);
            (When::At(about), Change { heat: 1.0, loss: chance.between(1.2, 2.0), bay })
        }
        _ => (When::Never, none),
    };
    let fan = matches!(regime, Regime::Fan | Regime::AheadFan);
    let (period, share, blows) =
        (chance.between(60.0, 300.0), chance.between(0.3, 0.7), chance.between(1.2, if others { 2.0 } else { 1.8 }));
    let drift = if regime == Regime::Drift { chance.between(-6.0, 6.0) / 3600.0 } else { 0.0 };
    // A first pass without the change tells when it would open, so that a moment on the way can be chosen.
    let seed = (chance.share() * 1e15) as u64;
    let course = |moment: f64, when: &When| -> Option<(Vec<f64>, Option<f64>, f64)> {
        let mut own = Chance::new(seed);
        let (mut now, mut seconds, mut happened) = (bodies.clone(), Vec::new(), None);
        let mut blowing = false;
        while seconds.len() < LONGEST {
            let second = seconds.len() as f64;
            seconds.push(now.fluid);
            let there = if off { now.fluid <= end } else { now.fluid >= end };
            if there {
                let before = seconds[seconds.len().checked_sub(2)?];
                let opens = second - 1.0 + (end - before) / (now.fluid - before);
                return Some((seconds, happened, opens));
            }
            let due = match when {
                When::Never => false,
                When::At(_) => second >= moment,
                When::Above(at) => now.fluid >= *at,
            };
            if due && happened.is_none() {
                happened = Some(second);
                now.change(change);
            }
            if fan && ((second / period).fract() < share) != blowing {
                blowing = !blowing;
                now.fluid_loss *= if blowing { blows } else { 1.0 / blows };
            }
            now.bay += drift;
            now.step(1.0, &mut own);
        }
        None
    };
    let (still, _, opens) = course(0.0, &When::Never)?;
    let (seconds, change, opens) = match when {
        When::Never => (still.clone(), None, opens),
        When::At(share) => course(30.0 + share * 0.8 * opens, &when)?,
        When::Above(_) => course(0.0, &when)?,
    };
    let begins = if chance.share() < 0.7 { 0.0 } else { chance.between(0.0, 0.4) * opens };
    let rate = seconds.last()? - seconds.get(seconds.len().checked_sub(61)?)?;
    if opens - begins < 360.0 || opens - begins > 10_800.0 || (!off && rate < SLOWEST) {
        return None;
    }
    let by_hand = regime == Regime::ByHand;
    let noise = chance.between(0.02, if others { 0.25 } else { 0.15 });
    let step = match regime {
        Regime::AheadSteps => 1.0,
        _ if by_hand => chance.one_of(&[0.1, 0.5, 1.0]),
        _ => chance.one_of(&[0.1, 0.1, 0.01, 0.5]),
    };
    let every = if by_hand { 30.0 } else { chance.one_of(&[0.5, 1.0, 1.0, 2.0, 5.0]) };
    let mut readings = Vec::new();
    let mut at = begins;
    while at < opens {
        let (second, part) = (at as usize, at.fract());
        let true_now = seconds[second] + part * (seconds[second + 1] - seconds[second]);
        let wild = regime == Regime::Wild && chance.share() < 0.03;
        let off = if wild { chance.between(3.0, 30.0) * chance.one_of(&[-1.0, 1.0]) } else { 0.0 };
        readings.push((at, off + ((true_now + noise * chance.normal()) / step).round() * step));
        at += every * if by_hand { chance.between(0.8, 1.3) } else { 1.0 };
    }
    let shows = (3.0 * noise).max(step).max(0.5);
    let visible = change.and_then(|change| {
        (change as usize..seconds.len().min(still.len()))
            .find(|second| (seconds[*second] - still[*second]).abs() > shows)
            .map(|second| second as f64)
    });
    Some(Run { bodies, low, high, opens, change, visible, readings, noise, step })
}
