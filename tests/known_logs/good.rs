//! Level checks that were done right. What they can't show is named; nothing about them may be "not met".

use crate::dice::Dice;
use crate::story::{Story, Way};

pub struct Good {
    pub name: &'static str,
    pub tell: fn(&mut Dice) -> Story,
    /// Checks that such a log can't show.
    pub cannot: &'static [&'static str],
}

/// While the engine stands the fluid keeps its whole degree for minutes, read or not.
const COARSE: &[&str] = &["not-frozen-off"];

const WAY: Way = Way { interval: 1.0, decimals: 1, before: 0.0 };

/// The steps of a clock that writes tenths of a second.
fn every(seconds: f64, dice: &mut Dice) -> Story {
    Story::good(Way { interval: seconds, ..WAY }, dice)
}

pub const GOOD: &[Good] = &[
    Good { name: "each second", tell: |dice| every(1.0, dice), cannot: &[] },
    Good { name: "twice a second", tell: |dice| every(0.5, dice), cannot: &[] },
    Good { name: "each two seconds", tell: |dice| every(2.0, dice), cannot: &[] },
    Good { name: "each three seconds", tell: |dice| every(3.0, dice), cannot: &[] },
    Good { name: "each four seconds", tell: |dice| every(4.0, dice), cannot: &[] },
    Good { name: "each five seconds", tell: |dice| every(5.0, dice), cannot: &[] },
    Good { name: "whole degrees", tell: |dice| Story::good(Way { decimals: 0, ..WAY }, dice), cannot: COARSE },
    Good { name: "hundredths", tell: |dice| Story::good(Way { decimals: 2, ..WAY }, dice), cannot: &[] },
    Good {
        name: "stood for half an hour before",
        tell: |dice| Story::good(Way { before: 1_800.0, ..WAY }, dice),
        cannot: &[],
    },
    Good {
        name: "stood for half an hour, whole degrees",
        tell: |dice| Story::good(Way { before: 1_800.0, decimals: 0, interval: 2.0 }, dice),
        cannot: COARSE,
    },
    Good {
        name: "came in hot, cooled for hours",
        tell: |dice| {
            let mut story = Story::good(Way { before: 10_800.0, interval: 5.0, ..WAY }, dice);
            // Warm by so much at first that what is left at the start is less than a tenth of a degree.
            for row in story.rows.iter_mut() {
                let left = 60.0 * (-row.at / 1_600.0).exp();
                row.sump += left;
                row.coolant += 0.9 * left;
            }
            story
        },
        cannot: &[],
    },
    Good {
        name: "some rows come late",
        tell: |dice| {
            let mut story = every(1.0, dice);
            for at in (20..story.rows.len()).step_by(37) {
                story.rows[at].at += 0.3;
            }
            story
        },
        cannot: &[],
    },
];
