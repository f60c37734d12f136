//! Level checks whose truth is known, as a reader would see them: invented warm-ups that only have to look like one.
//!
//! Times are in seconds from the first row. A fluid that nears its running temperature exponentially and a coolant that does so faster
//! are how such curves look; their numbers have no source.

use crate::dice::Dice;

#[derive(Clone, Copy, Debug)]
pub struct Moment {
    pub at: f64,
    pub sump: f64,
    pub bay: f64,
    pub coolant: f64,
    pub speed: f64,
    pub lever: &'static str,
}

/// What was done when, and what was logged of it.
#[derive(Clone)]
pub struct Story {
    pub family: &'static str,
    pub start: f64,
    /// When the engine was stopped for the look, where the level is looked at with it off.
    pub stop: Option<f64>,
    pub opened: f64,
    pub closed: f64,
    pub driven: f64,
    pub end: f64,
    /// From when the selector stood where.
    pub lever: Vec<(f64, &'static str)>,
    pub interval: f64,
    pub rows: Vec<Moment>,
    pub events: Vec<(&'static str, f64)>,
    /// Decimals of the temperatures as the reader writes them.
    pub decimals: usize,
}

/// What a family asks of a level check, copied from `plugins/`.
struct Asked {
    positions: &'static [&'static str],
    hold: f64,
    idle: f64,
    open_at: (f64, f64),
}

/// The engine of a family runs or stands while the level is looked at.
fn asked(family: &str) -> Asked {
    match family {
        "heron" => Asked {
            positions: &["park", "reverse", "neutral", "drive", "manual"],
            hold: 4.0,
            idle: 720.0,
            open_at: (46.2, 53.5),
        },
        _ => Asked {
            positions: &["neutral", "drive", "sport", "reverse", "park"],
            hold: 7.0,
            idle: 660.0,
            open_at: (55.2, 57.0),
        },
    }
}

/// What a good level check may differ in without becoming a bad one.
#[derive(Clone, Copy)]
pub struct Way {
    pub interval: f64,
    pub decimals: usize,
    /// Seconds that it stood cold and was logged before the start.
    pub before: f64,
}

impl Story {
    pub fn good(way: Way, dice: &mut Dice) -> Self {
        let family = dice.one_of(&["heron", "heron", "plover"]);
        let asked = asked(family);
        let cold = dice.between(14.0, 24.0);
        let bay = cold + dice.between(-2.0, 2.0);
        let (rise, slowness) = (dice.between(75.0, 100.0), dice.between(1_800.0, 2_600.0));
        let start = way.before + dice.between(40.0, 120.0);
        let reached = |celsius: f64| -slowness * (1.0 - (celsius - cold) / rise).ln();
        let warm = start + reached(dice.between(asked.open_at.0, asked.open_at.1));
        let stop = (family == "plover").then_some(warm);
        let opened = warm + if stop.is_some() { dice.between(150.0, 200.0) } else { 0.0 };
        let closed = opened + dice.between(50.0, 130.0);
        // Opened early, it stays open until its window is there.
        let closed = if stop.is_some() { closed } else { closed.max(start + reached(51.5) + dice.between(5.0, 40.0)) };
        let off = closed + dice.between(60.0, 120.0);
        let again = off + dice.between(120.0, 200.0);
        let driven = again + 60.0;
        // A reader that looks seldom must see more of each position.
        let stay = asked.hold + 3.0 * way.interval + dice.between(1.0, 5.0);
        let first = start + dice.between(30.0, 60.0);
        let mut lever = vec![(f64::MIN, "park")];
        for (at, position) in asked.positions.iter().enumerate() {
            lever.push((first + at as f64 * stay, position));
        }
        lever.extend([
            (first + asked.positions.len() as f64 * stay, "park"),
            (driven, "drive"),
            (driven + 180.0, "park"),
        ]);
        let mut story = Self {
            family,
            start,
            stop,
            opened,
            closed,
            driven,
            end: driven + 200.0,
            lever,
            interval: way.interval,
            rows: Vec::new(),
            events: Vec::new(),
            decimals: way.decimals,
        };
        let running = |at: f64| (start..stop.unwrap_or(off)).contains(&at) || at >= again;
        let (mut sump, mut coolant) = (cold, bay);
        let mut at = 0.0;
        while at <= story.end {
            if running(at) {
                sump += (cold + rise - sump) * way.interval / slowness;
                coolant += (88.0 - coolant) * way.interval / 260.0;
            } else if at > start {
                sump -= 0.008 * way.interval;
            }
            let driving = (driven..driven + 180.0).contains(&at);
            let speed = match (running(at), driving) {
                (false, _) => 0.0,
                (true, true) => 1_900.0 + dice.between(-300.0, 300.0),
                (true, false) => asked.idle + dice.between(-14.0, 14.0),
            };
            story.rows.push(Moment {
                at,
                sump: sump + dice.between(-0.03, 0.03),
                bay: bay + dice.between(-0.05, 0.05),
                coolant: coolant + dice.between(-0.1, 0.1),
                speed: speed.round(),
                lever: story.lever_at(at),
            });
            at = (story.rows.len() as f64) * way.interval;
        }
        // Said by people, who are some seconds off.
        story.events = vec![
            ("started", start + dice.between(-8.0, 25.0)),
            ("opened", opened + dice.between(-3.0, 3.0)),
            ("closed", closed + dice.between(-3.0, 3.0)),
            ("driven", driven + dice.between(-5.0, 5.0)),
            ("returned", driven + 180.0 + dice.between(-5.0, 5.0)),
        ];
        story
    }

    pub fn lever_at(&self, at: f64) -> &'static str {
        self.lever.iter().rev().find(|(from, _)| *from <= at).map_or("park", |(_, position)| position)
    }

    pub fn start_below(&self) -> f64 {
        if self.family == "heron" { 41.0 } else { 34.0 }
    }

    pub fn idle(&self) -> f64 {
        asked(self.family).idle
    }

    pub fn event(&mut self, name: &str, change: impl Fn(f64) -> f64) {
        for (_, at) in self.events.iter_mut().filter(|(known, _)| *known == name) {
            *at = change(*at);
        }
    }

    pub fn each(&mut self, (from, to): (f64, f64), change: impl Fn(&mut Moment)) {
        self.rows.iter_mut().filter(|row| (from..=to).contains(&row.at)).for_each(change);
    }

    pub fn without(&mut self, (from, to): (f64, f64)) {
        self.rows.retain(|row| !(from..=to).contains(&row.at));
    }

    /// Writes again where the selector stood.
    pub fn lever_anew(&mut self) {
        let lever = self.lever.clone();
        for row in &mut self.rows {
            row.lever = lever.iter().rev().find(|(from, _)| *from <= row.at).map_or("park", |(_, position)| position);
        }
    }

    pub fn row_at(&self, at: f64) -> Moment {
        *self.rows.iter().rev().find(|row| row.at <= at).unwrap_or(&self.rows[0])
    }
}
