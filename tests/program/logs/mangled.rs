//! Logs with bytes changed, cut, shuffled or made of nothing: never a panic, never a hang, never more shown than before.

use std::time::{Duration, Instant};

use indexmap::IndexMap;
use standpipe::diagnostic::Problems;
use standpipe::job::event::Verdict;
use standpipe::library::{Files, Kind};
use standpipe::log::{Around, Choices, Collected, Description};
use standpipe::plan::{Parsed, typed};
use standpipe::script::Scripts;

use super::made;

/// A generator of its own, seeded: a failure names the try, and the try comes again.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }
}

struct Bench {
    parsed: Parsed,
    description: Description,
    scripts: Scripts,
    around: Around,
}

impl Bench {
    fn new() -> Self {
        let mut problems = Problems::new();
        let parsed = Parsed::new(Files::built_in(), &mut problems);
        let document = parsed.library.documents(Kind::Log).next().unwrap();
        let description = Description::read(&document.source, &parsed.units, &mut problems).unwrap();
        let (_, family) = parsed.family(&typed("family", "heron"), &mut problems).unwrap();
        assert!(problems.is_empty(), "{problems:?}");
        let start = 8.0 * 3600.0 + 15.0 * 60.0;
        let events = [("started", 60.0), ("opened", 700.0), ("closed", 820.0), ("driven", 960.0), ("returned", 1140.0)];
        let events: IndexMap<String, f64> =
            events.into_iter().map(|(name, at)| (name.to_owned(), start + at)).collect();
        let around = Around { spec: Some(family.facts(None)), events, ..Around::default() };
        let scripts = parsed.scripts();
        Self { parsed, description, scripts, around }
    }

    /// The checks that are met; none where it is not read.
    fn met(&self, bytes: &[u8]) -> Vec<String> {
        let started = Instant::now();
        let log = Collected::read(bytes, &self.description.wanted, Choices::default(), &self.parsed.units);
        let judged = log.map(|log| self.description.judge(&log, &self.around, &self.parsed.units, &self.scripts));
        assert!(started.elapsed() < Duration::from_secs(20), "it hangs");
        let Ok(judged) = judged else { return Vec::new() };
        judged.into_iter().filter(|one| one.verdict == Verdict::Met).map(|one| one.id).collect()
    }
}

fn example(name: &str) -> Vec<u8> {
    made::all().into_iter().find(|(file, _)| *file == name).unwrap().1
}

/// Checks that rest on what came when: they may only be lost.
const ON_VALUES: [&str; 4] = ["selector-held", "window-while-open", "closed-in-window", "cold-at-the-start"];

#[test]
fn random_bytes_show_nothing() {
    let bench = Bench::new();
    let mut dice = Dice(0x5EED_0001);
    for length in [0, 1, 2, 3, 10, 100, 5_000, 70_000] {
        for _ in 0..20 {
            let any: Vec<u8> = (0..length).map(|_| dice.next() as u8).collect();
            let marks: Vec<u8> = (0..length).map(|_| b"0123456789.,;:\t\n\r\"- TZabc"[dice.below(25)]).collect();
            for bytes in [any, marks] {
                let met = bench.met(&bytes);
                assert!(!met.iter().any(|id| ON_VALUES.contains(&id.as_str())), "{met:?} from {length} random bytes");
            }
        }
    }
}

#[test]
fn a_cut_log_shows_nothing_that_the_whole_one_does_not() {
    let bench = Bench::new();
    let mut dice = Dice(0x5EED_0002);
    for name in ["road.csv", "preamble.csv", "night-utf16.txt", "hurried.csv"] {
        let whole = example(name);
        let of_whole = bench.met(&whole);
        for _ in 0..12 {
            let cut = &whole[..dice.below(whole.len())];
            let met = bench.met(cut);
            let more: Vec<&String> =
                met.iter().filter(|id| ON_VALUES.contains(&id.as_str()) && !of_whole.contains(id)).collect();
            assert!(more.is_empty(), "{name} cut at {}: {more:?}", cut.len());
        }
    }
}

#[test]
fn rows_left_out_make_gaps_and_gaps_show_nothing() {
    let bench = Bench::new();
    let mut dice = Dice(0x5EED_0003);
    let whole = String::from_utf8(example("road.csv")).unwrap();
    let lines: Vec<&str> = whole.lines().collect();
    assert!(bench.met(whole.as_bytes()).iter().any(|id| id == "window-while-open"));
    for _ in 0..12 {
        // 350 to 410 are the rows in which the opening was open.
        let from = 352 + dice.below(50);
        let kept: Vec<&str> =
            lines.iter().enumerate().filter(|(at, _)| !(from..from + 4).contains(at)).map(|(_, line)| *line).collect();
        let met = bench.met((kept.join("\n") + "\n").as_bytes());
        assert!(!met.iter().any(|id| id == "window-while-open" || id == "no-gaps"), "rows from {from}: {met:?}");
    }
}

#[test]
fn columns_in_another_order_show_the_same() {
    let bench = Bench::new();
    let mut dice = Dice(0x5EED_0004);
    let whole = String::from_utf8(example("road.csv")).unwrap();
    let expected = bench.met(whole.as_bytes());
    for _ in 0..6 {
        let mut order: Vec<usize> = (0..6).collect();
        (1..6).for_each(|at| order.swap(at, dice.below(at + 1)));
        let shuffled: String = whole
            .lines()
            .map(|line| {
                let cells: Vec<&str> = line.split(';').collect();
                order.iter().map(|at| cells[*at]).collect::<Vec<_>>().join(";") + "\n"
            })
            .collect();
        assert_eq!(bench.met(shuffled.as_bytes()), expected, "{order:?}");
    }
}

#[test]
fn headings_over_other_columns_are_never_met_for_what_they_are_not() {
    let bench = Bench::new();
    let whole = String::from_utf8(example("road.csv")).unwrap();
    let swapped =
        whole.replacen("Sump temp", "X", 1).replacen("Coolant temp", "Sump temp", 1).replacen("X", "Coolant temp", 1);
    let met = bench.met(swapped.as_bytes());
    assert!(!met.iter().any(|id| id == "window-while-open" || id == "closed-in-window"), "{met:?}");
}

#[test]
fn changed_bytes_never_panic_and_never_hang() {
    let bench = Bench::new();
    let mut dice = Dice(0x5EED_0005);
    for (name, whole) in made::all() {
        for _ in 0..4 {
            let mut bytes = whole.clone();
            for _ in 0..1 + dice.below(30) {
                let at = dice.below(bytes.len());
                match dice.below(3) {
                    0 => bytes[at] = dice.next() as u8,
                    1 => bytes[at] = b"\",;\n\t\0"[dice.below(6)],
                    _ => drop(bytes.remove(at)),
                }
            }
            let _ = (name, bench.met(&bytes));
        }
    }
}
