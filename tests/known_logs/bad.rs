//! What can be wrong with a level check or with its log. Each changes a good one; nothing else about it is wrong.

use crate::dice::Dice;
use crate::story::{Story, Way};

pub struct Bad {
    pub name: &'static str,
    pub change: fn(&mut Story, &mut Dice),
    /// Checks of which one has to object.
    pub objects: &'static [&'static str],
    /// Checks that would blame something else than what is wrong: never "not met".
    pub innocent: &'static [&'static str],
}

const COLD: &[&str] = &["cold-at-the-start", "cooled-down"];

pub fn way(dice: &mut Dice) -> Way {
    Way {
        interval: dice.one_of(&[0.5, 1.0, 1.0, 2.0]),
        decimals: dice.one_of(&[0, 1, 1, 2]),
        before: dice.one_of(&[0.0, 0.0, 600.0]),
    }
}

/// Holds the temperature of the fluid for so long, then lets it catch up without a jump.
fn freeze(story: &mut Story, from: f64, long: f64) {
    let held = story.row_at(from).sump;
    let interval = story.interval;
    let mut shown = held;
    for row in story.rows.iter_mut().filter(|row| row.at >= from) {
        if row.at >= from + long {
            shown += (row.sump - shown).clamp(-0.4 * interval, 0.4 * interval);
        }
        row.sump = if row.at < from + long { held } else { shown };
    }
}

fn shift(story: &mut Story, by: f64) {
    story.events.iter_mut().for_each(|(_, at)| *at += by);
}

fn late<T: Copy>(
    story: &mut Story,
    rows: usize,
    read: impl Fn(&crate::story::Moment) -> T,
    write: impl Fn(&mut crate::story::Moment, T),
) {
    let values: Vec<T> = story.rows.iter().map(read).collect();
    for (at, row) in story.rows.iter_mut().enumerate() {
        write(row, values[at.saturating_sub(rows)]);
    }
}

pub const BAD: &[Bad] = &[
    Bad {
        name: "engine stands while open, or runs where it must stand",
        change: |story, _| {
            let speed = if story.stop.is_some() { story.idle() } else { 0.0 };
            let open = (story.opened - 8.0, story.closed + 8.0);
            story.each(open, |row| row.speed = speed);
        },
        objects: &["ran-at-idle", "engine-while-open-off"],
        innocent: COLD,
    },
    Bad {
        name: "engine far below idle",
        change: |story, dice| {
            let share = dice.between(0.35, 0.7);
            let span = (story.start + 30.0, story.closed + 5.0);
            story.each(span, |row| row.speed = (row.speed * share).round());
        },
        objects: &["ran-at-idle", "ran-at-idle-until-off", "selector-held", "clocks-agree"],
        innocent: &[],
    },
    Bad {
        name: "selector gone through after closing only",
        change: |story, _| {
            let by = story.closed + 20.0 - story.lever[1].0;
            let driven = story.driven;
            for (at, _) in story.lever.iter_mut().skip(1).filter(|(at, _)| *at < driven) {
                *at += by;
            }
            story.lever_anew();
        },
        objects: &["selector-held"],
        innocent: COLD,
    },
    Bad {
        name: "frozen for ten minutes",
        change: |story, dice| {
            let from = dice.between(story.start + 20.0, story.opened - 30.0);
            freeze(story, from, 600.0);
        },
        objects: &["not-frozen", "not-frozen-off"],
        innocent: COLD,
    },
    Bad {
        name: "frozen for four minutes",
        change: |story, dice| {
            story.decimals = story.decimals.max(1);
            let from = dice.between(story.start + 20.0, story.opened - 30.0);
            freeze(story, from, 240.0);
        },
        objects: &["not-frozen", "not-frozen-off"],
        innocent: COLD,
    },
    Bad {
        name: "frozen just before it opens",
        change: |story, _| {
            story.decimals = story.decimals.max(1);
            let (from, long) = (story.opened - 5.0, 700.0);
            freeze(story, from, long);
        },
        objects: &["not-frozen", "not-frozen-off"],
        innocent: COLD,
    },
    Bad {
        name: "clocks differ by minutes",
        change: |story, dice| {
            let by = dice.between(150.0, 900.0) * dice.one_of(&[-1.0, 1.0]);
            shift(story, by);
        },
        objects: &["clocks-agree", "covers-the-check"],
        innocent: COLD,
    },
    Bad {
        name: "an hour off",
        change: |story, dice| {
            let by = 3_600.0 * dice.one_of(&[-1.0, 1.0]);
            shift(story, by);
        },
        objects: &["clocks-agree", "covers-the-check"],
        innocent: COLD,
    },
    Bad {
        name: "only the start is said wrongly",
        change: |story, dice| {
            let by = dice.between(120.0, 240.0) * dice.one_of(&[-1.0, 1.0]);
            story.event("started", |at| at + by);
        },
        objects: &["clocks-agree", "covers-the-check"],
        innocent: COLD,
    },
    Bad {
        name: "coolant repeats the fluid a row late",
        change: |story, dice| {
            let rows = dice.one_of(&[0, 1, 1, 2]);
            late(story, rows, |row| row.sump, |row, sump| row.coolant = sump);
        },
        objects: &["own-sensor"],
        innocent: COLD,
    },
    Bad {
        name: "fluid repeats the coolant a row late",
        change: |story, dice| {
            let rows = dice.one_of(&[0, 1, 1, 2]);
            late(story, rows, |row| row.coolant, |row, coolant| row.sump = coolant);
        },
        objects: &["own-sensor"],
        innocent: &[],
    },
    Bad {
        name: "bay repeats the fluid a row late",
        change: |story, _| late(story, 1, |row| row.sump, |row, sump| row.bay = sump),
        objects: &["bay-own-sensor"],
        innocent: COLD,
    },
    Bad {
        name: "open for no time",
        change: |story, dice| {
            let at = story.closed;
            let before = dice.one_of(&[0.0, 0.0, 1.0, 3.0]);
            story.event("closed", |_| at);
            story.event("opened", |_| at - before);
        },
        objects: &["open-long-enough"],
        innocent: COLD,
    },
    Bad {
        name: "closed before it was opened",
        change: |story, _| {
            let (opened, closed) = (story.opened, story.closed);
            story.event("closed", |_| opened);
            story.event("opened", |_| closed);
        },
        objects: &["open-long-enough"],
        innocent: COLD,
    },
    Bad {
        name: "speed says the engine never ran",
        change: |story, _| {
            let end = story.end;
            story.each((0.0, end), |row| row.speed = 0.0);
        },
        objects: &["clocks-agree", "ran-at-idle"],
        innocent: COLD,
    },
    Bad {
        name: "speed says it ran all the time",
        change: |story, _| {
            let (idle, end) = (story.idle(), story.end);
            story.each((0.0, end), |row| row.speed = if row.speed == 0.0 { idle } else { row.speed });
        },
        objects: &["clocks-agree"],
        innocent: COLD,
    },
    Bad {
        name: "fluid warms while the engine stands",
        change: |story, _| {
            let (from, until) = (story.start, story.start + 300.0);
            story.each((from - 1.0, until), |row| row.speed = 0.0);
            story.event("started", |_| until);
        },
        objects: &["warms-only-running"],
        innocent: &[],
    },
    Bad {
        name: "coolant stays cold",
        change: |story, _| {
            let end = story.end;
            story.each((0.0, end), |row| row.coolant = row.bay + 0.3);
        },
        objects: &["coolant-warms"],
        innocent: COLD,
    },
    Bad {
        name: "selector moved while open",
        change: |story, dice| {
            let (from, to) = (story.opened + 8.0, story.closed - 8.0);
            let position = dice.one_of(&["drive", "reverse", "neutral"]);
            let at = dice.between(from, to - 10.0);
            story.each((at, at + 10.0), |row| row.lever = position);
        },
        objects: &["park-while-open"],
        innocent: COLD,
    },
    Bad {
        name: "a gap while open",
        change: |story, _| {
            let middle = (story.opened + story.closed) / 2.0;
            story.without((middle - 10.0, middle + 10.0));
        },
        objects: &["window-while-open"],
        innocent: COLD,
    },
    Bad {
        name: "a gap in a position",
        change: |story, _| {
            let (from, to) = (story.lever[3].0, story.lever[4].0);
            story.without((from - 2.0, to + 2.0));
        },
        objects: &["selector-held"],
        innocent: COLD,
    },
    Bad {
        name: "a position left out",
        change: |story, dice| {
            let gone = dice.one_of(&[2, 3, 4]);
            let before = story.lever[gone - 1].1;
            story.lever[gone].1 = before;
            story.lever_anew();
        },
        objects: &["selector-held"],
        innocent: COLD,
    },
    Bad {
        name: "a position held too short",
        change: |story, dice| {
            let short = dice.one_of(&[2, 3, 4]);
            story.lever[short].0 = story.lever[short + 1].0 - 2.5;
            story.lever_anew();
        },
        objects: &["selector-held"],
        innocent: COLD,
    },
    Bad {
        name: "started warm",
        change: |story, dice| {
            let by = story.start_below() + dice.between(1.0, 6.0) - story.rows[0].sump;
            let (start, warmed) = (story.start, story.opened);
            for row in &mut story.rows {
                let share = ((warmed - row.at) / (warmed - start)).clamp(0.0, 1.0);
                row.sump += by * share;
            }
        },
        objects: COLD,
        innocent: &[],
    },
    Bad {
        name: "revved before it was closed",
        change: |story, dice| {
            let last = story.stop.unwrap_or(story.closed);
            let at = dice.between(story.start + 20.0, last - 12.0);
            let speed = dice.between(1_100.0, 2_500.0).round();
            story.each((at, at + 6.0), |row| row.speed = speed);
        },
        objects: &["idle-throughout"],
        innocent: COLD,
    },
    Bad {
        name: "stalled and started again",
        change: |story, dice| {
            let at = dice.between(story.start + 90.0, story.stop.unwrap_or(story.opened) - 30.0);
            story.each((at, at + 15.0), |row| row.speed = 0.0);
        },
        objects: &["ran-at-idle", "ran-at-idle-until-off"],
        innocent: COLD,
    },
    Bad {
        name: "opened below the window",
        change: |story, dice| {
            // Seven kelvins and more below the window: some may be opened six below it.
            let by = dice.between(420.0, 500.0);
            story.event("opened", |at| at - by);
        },
        objects: &["opened-warm-enough", "engine-while-open-off"],
        innocent: COLD,
    },
    Bad {
        name: "closed below the window",
        change: |story, _| {
            let (opened, closed) = (story.opened, story.closed);
            for row in story.rows.iter_mut().filter(|row| row.at > opened) {
                row.sump -= 12.0 * ((row.at - opened) / (closed - opened)).min(1.2);
            }
        },
        objects: &["closed-in-window"],
        innocent: COLD,
    },
    Bad {
        name: "closed above the window",
        change: |story, _| {
            let (opened, closed) = (story.opened, story.closed);
            for row in story.rows.iter_mut().filter(|row| row.at > opened) {
                row.sump += 9.0 * ((row.at - opened) / (closed - opened)).min(1.2);
            }
        },
        objects: &["closed-in-window", "window-while-open"],
        innocent: COLD,
    },
    Bad {
        name: "a reading jumps",
        change: |story, dice| {
            let at = dice.between(story.start, story.closed);
            let interval = story.interval;
            story.each((at, at + interval), |row| row.sump += 25.0);
        },
        objects: &["no-jumps"],
        innocent: &[],
    },
    Bad {
        name: "the log ends before it was closed",
        change: |story, _| {
            let until = (story.opened + story.closed) / 2.0;
            let end = story.end;
            story.without((until, end));
        },
        objects: &["covers-the-check"],
        innocent: COLD,
    },
    Bad {
        name: "the log begins with the engine running",
        change: |story, _| {
            let from = story.start + 15.0;
            story.without((-1.0, from));
        },
        objects: &["cold-at-the-start"],
        innocent: &[],
    },
    Bad {
        name: "too hot on the road",
        change: |story, dice| {
            let peak = dice.between(112.0, 130.0);
            let (from, to) = (story.driven, story.driven + 180.0);
            story.each((from, to), |row| {
                let up = (1.0 - ((row.at - from) / 90.0 - 1.0).abs()).max(0.0);
                row.sump += (peak - row.sump) * up;
            });
        },
        objects: &["peak"],
        innocent: COLD,
    },
    Bad {
        name: "the clock was set back",
        change: |story, dice| {
            let from = dice.between(story.start, story.closed);
            for row in story.rows.iter_mut().filter(|row| row.at > from) {
                row.at -= 40.0;
            }
        },
        objects: &["time-runs-on"],
        innocent: &[],
    },
];
