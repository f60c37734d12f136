//! Dimensions that nobody had looked at when checks and reading were mended; the README quotes their first matrix.

use crate::bad::Bad;
use crate::good::Good;
use crate::story::{Story, Way};

const COLD: &[&str] = &["cold-at-the-start", "cooled-down"];

pub const GOOD: &[Good] = &[
    Good {
        name: "logged twice as long after the road",
        tell: |dice| {
            let mut story = Story::good(Way { interval: 1.0, decimals: 1, before: 0.0 }, dice);
            let last = story.row_at(story.end);
            story.rows.extend((1..1_200u32).map(|second| {
                let mut row = last;
                row.at += f64::from(second);
                row
            }));
            story
        },
        cannot: &[],
    },
    Good {
        name: "a bay as warm as the window",
        tell: |dice| {
            let mut story = Story::good(Way { interval: 1.0, decimals: 1, before: 0.0 }, dice);
            story.rows.iter_mut().for_each(|row| row.bay += 12.0);
            story
        },
        cannot: &[],
    },
    Good {
        name: "six seconds apart, the pace of a slow adapter",
        tell: |dice| Story::good(Way { interval: 6.0, decimals: 1, before: 0.0 }, dice),
        cannot: &[],
    },
    Good {
        name: "rows come in unevenly",
        tell: |dice| {
            let mut story = Story::good(Way { interval: 2.0, decimals: 1, before: 0.0 }, dice);
            for row in &mut story.rows {
                row.at += dice.between(0.0, 0.4);
            }
            story
        },
        cannot: &[],
    },
    Good {
        name: "selector left in neutral for a moment on the way",
        tell: |dice| {
            let mut story = Story::good(Way { interval: 0.5, decimals: 1, before: 0.0 }, dice);
            let from = story.lever[6].0 + 5.0;
            story.each((from, from + 3.0), |row| row.lever = "neutral");
            story
        },
        cannot: &[],
    },
];

pub const BAD: &[Bad] = &[
    Bad {
        name: "above the window for some seconds while open",
        change: |story, _| {
            let middle = (story.opened + story.closed) / 2.0;
            let above = if story.family == "heron" { 58.6 } else { 56.6 };
            story.each((middle, middle + 4.0), |row| row.sump = above);
        },
        objects: &["window-while-open"],
        innocent: COLD,
    },
    Bad {
        name: "unit changes on the way",
        change: |story, dice| {
            let from = dice.between(story.start, story.closed);
            let end = story.end;
            story.each((from, end), |row| row.sump = row.sump * 1.8 + 32.0);
        },
        objects: &["no-jumps"],
        innocent: COLD,
    },
    Bad {
        name: "sensor stops at its highest value inside the window",
        change: |story, dice| {
            story.decimals = 1;
            let most = story.row_at(story.opened).sump - dice.between(0.3, 0.8);
            let end = story.driven - 10.0;
            story.each((0.0, end), |row| row.sump = row.sump.min(most));
        },
        objects: &["not-frozen", "not-frozen-off"],
        innocent: COLD,
    },
    Bad {
        name: "fluid and coolant are the wrong way round",
        change: |story, _| story.rows.iter_mut().for_each(|row| std::mem::swap(&mut row.sump, &mut row.coolant)),
        objects: &["window-while-open", "coolant-warms"],
        innocent: &[],
    },
    Bad {
        name: "two starts, the second one warm",
        change: |story, dice| {
            let at = dice.between(story.start + 150.0, story.start + 300.0);
            story.each((at, at + 60.0), |row| row.speed = 0.0);
            story.event("started", |_| at + 60.0);
        },
        objects: &["cold-at-the-start", "selector-held"],
        innocent: &[],
    },
    Bad {
        name: "speed comes minutes later than the rest",
        change: |story, dice| {
            let late = (dice.between(120.0, 240.0) / story.interval) as usize;
            let values: Vec<f64> = story.rows.iter().map(|row| row.speed).collect();
            for (at, row) in story.rows.iter_mut().enumerate() {
                row.speed = values[at.saturating_sub(late)];
            }
        },
        objects: &["clocks-agree"],
        innocent: COLD,
    },
    Bad {
        name: "a minute lost just before the start",
        change: |story, _| {
            let start = story.start;
            story.without((start - 30.0, start + 10.0));
        },
        objects: &["cold-at-the-start"],
        innocent: &[],
    },
    Bad {
        name: "cells that can't be read",
        change: |story, _| {
            let at = story.opened + 5.0;
            story.each((at, at + story.interval), |row| row.sump = f64::NAN);
        },
        objects: &["readable", "no-gaps", "window-while-open"],
        innocent: COLD,
    },
];

/// What still passes, and is told with the matrix: cold fluid that is topped up makes the same courses, and is no fault.
pub const PASSES: &[Bad] = &[
    Bad {
        name: "a minute is written a second time",
        change: |story, _| {
            let (from, to) = (story.opened - 70.0, story.opened - 10.0);
            let again: Vec<_> = story.rows.iter().filter(|row| (from..to).contains(&row.at)).copied().collect();
            let mut again = again.into_iter().cycle();
            let until = to + 60.0;
            story.rows.iter_mut().filter(|row| (to..until).contains(&row.at)).for_each(|row| {
                let at = row.at;
                *row = again.next().unwrap_or(*row);
                row.at = at;
            });
        },
        objects: &["no-jumps"],
        innocent: COLD,
    },
    Bad {
        name: "fluid cools while the engine warms it",
        change: |story, _| {
            let (from, to) = (story.start + 60.0, story.opened);
            let (warm, low) = (story.row_at(to).sump, story.row_at(from).sump);
            // Falls from well above, and comes into the window from there.
            story.each((from, story.closed + 20.0), |row| {
                let share = ((row.at - from) / 120.0).min(1.0);
                let peak = warm + 6.0;
                let down = ((row.at - from - 120.0) / (to - from - 120.0)).clamp(0.0, 1.0);
                row.sump = low + (peak - low) * share - 6.0 * down;
            });
        },
        objects: &["no-jumps"],
        innocent: COLD,
    },
];
