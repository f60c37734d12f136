//! Live rows: a reading is only relied on if it is the newest, came lately, and has changed lately.

use standpipe::stream::{Limits, Reading, Watch};

use super::choices::Choices;

const STALE: f64 = 8.0;
const FROZEN: f64 = 60.0;

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let limits = Limits { stale: Some(STALE), frozen: Some(FROZEN) };
    let mut watch = Watch::new(limits);
    // What is told of them, kept by far simpler means.
    let (mut now, mut at, mut told): (f64, f64, Vec<Reading>) = (0.0, 0.0, Vec::new());
    let mut over = false;
    while !choices.are_spent() {
        match choices.below(8) {
            0..=3 => {
                now += f64::from(choices.byte()) / 16.0;
                at += f64::from(choices.byte()) / 16.0;
                let value = 300.0 + choices.below(3) as f64;
                let reading = Reading { at, seen: now, value };
                watch.row(reading, false);
                told.push(reading);
                over = false;
            }
            4 => {
                // Something that goes back, or is no number.
                let value = choices.one(&[f64::NAN, f64::INFINITY, 301.0]);
                let back = choices.one(&[0.0, 0.5, f64::NAN, 1e9]);
                let reading = Reading { at: at - back, seen: now, value };
                watch.row(reading, choices.rarely(2));
                if reading.at == at && value.is_finite() && told.last().is_some_and(|last| last.at == at) {
                    // Taken, and not newer: it did change.
                    told.push(reading);
                } else if told.is_empty() && reading.at.is_finite() && value.is_finite() {
                    // The first row is history or not, as may be: what follows is held against it.
                    at = reading.at;
                    told.push(reading);
                    over = false;
                }
            }
            5 => {
                now += f64::from(choices.byte());
                watch.tick(now);
            }
            6 => {
                watch.begin_anew();
                told.clear();
            }
            _ => {
                watch.over();
                over = true;
            }
        }
        let relied = watch.now(now);
        if let Ok(reading) = relied {
            let last = told.last().expect("a reading that nobody told");
            assert!(!over && reading.value.is_finite(), "{reading:?}");
            assert_eq!((reading.at, reading.value), (last.at, last.value), "not the newest");
            assert!(now - reading.seen <= STALE, "stale: {reading:?} at {now}");
            let same = told.iter().rev().take_while(|one| one.value == reading.value).collect::<Vec<_>>();
            let gap = same.windows(2).any(|pair| pair[0].at - pair[1].at > STALE);
            let since = same.last().map_or(0.0, |first| reading.at - first.at);
            assert!(gap || since < FROZEN, "frozen for {since}: {reading:?}");
        }
        let (from, to) = (now - f64::from(choices.byte()), now);
        if watch.covers(from, to).0 {
            let mut moment = from;
            for one in told.iter().filter(|one| one.seen >= from) {
                assert!(one.seen - moment <= STALE, "a gap until {} is called covered", one.seen);
                moment = one.seen;
            }
            assert!(to - moment <= STALE, "the end is called covered");
        }
    }
}
