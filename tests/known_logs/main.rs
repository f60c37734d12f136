//! Logs whose truth is known: of no bad one may everything be met, of no good one may anything be "not met".
//!
//! `cargo test --test known-logs -- --ignored --nocapture` prints the matrix of some hundred logs of each kind;
//! `STANDPIPE_KNOWN_LOGS=SEED` takes another seed.

// What tests share is outside of any `#[test]`, where clippy does not allow it by itself.
#![allow(clippy::unwrap_used)]
// The matrix is for people to read.
#![allow(clippy::print_stdout)]

mod bad;
mod dice;
mod good;
mod story;
mod unseen;
mod written;

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

use dice::Dice;
use standpipe_diagnostic::source::Source;
use standpipe_job::event::Verdict;
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{File, Files, Kind};
use standpipe_log::{Around, Choices, Collected, Description, Judged, TimeForm};
use standpipe_quantity::value::Value;
use standpipe_script::Scripts;
use story::Story;
use written::Form;

/// Of the matrix that `cargo test` looks at.
const SEED: u64 = 20_261_128;

struct Bench {
    parsed: Parsed,
    scripts: Scripts,
    description: Description,
}

impl Bench {
    /// The plugins of the program, the description of logs as it stands in the folder.
    fn new() -> Self {
        let path =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("../../plugins/automatic-transmissions/logs/level-log.yaml");
        let text = std::fs::read_to_string(path).unwrap();
        let mut files = Files::built_in();
        let of_log = |file: &&mut File| file.path == "logs/level-log.yaml";
        files.list.iter_mut().find(of_log).unwrap().source = Source::new("level-log.yaml", text);
        let mut problems = Vec::new();
        let parsed = Parsed::new(files, &mut problems);
        let document = parsed.library.find(Kind::Log, &typed("log", "level-log"), &mut problems).unwrap();
        let description = Description::read(&document.source, &parsed.units, &mut problems);
        assert!(problems.is_empty(), "{problems:#?}");
        let scripts = parsed.scripts();
        Self { description: description.unwrap(), scripts, parsed }
    }

    fn spec(&self, family: &str) -> Value {
        self.parsed.family(&typed("family", family), &mut Vec::new()).unwrap().1.facts(None)
    }

    fn judge(&self, story: &Story, dice: &mut Dice) -> (Vec<Judged>, String) {
        let form = Form::by(dice, story.decimals);
        let written = form.write(story);
        let choices = Choices {
            // A clock that begins at midnight could count from its start.
            time: (written.first > 0.0 && !written.dated).then_some(TimeForm::Clock),
            ..Choices::default()
        };
        let read = Collected::read(written.bytes.as_slice(), &self.description.wanted, choices, &self.parsed.units);
        let log = read.unwrap_or_else(|fault| {
            panic!("{}:\n{}", fault.words("the log"), String::from_utf8_lossy(&written.bytes[..600]))
        });
        let around = Around {
            spec: Some(self.spec(story.family)),
            events: story.events.iter().map(|(name, at)| ((*name).to_owned(), at + written.first)).collect(),
            ..Around::default()
        };
        let checks = self.description.judge(&log, &around, &self.parsed.units, &self.scripts);
        (checks, written.said)
    }
}

/// How the logs of one kind came out.
#[derive(Default)]
struct Line {
    name: &'static str,
    logs: usize,
    /// Of which nothing but "met" is said.
    passed: usize,
    /// As they should.
    right: usize,
    by: BTreeMap<String, usize>,
    wrong: Vec<String>,
}

impl Line {
    fn take(&mut self, wrong: Option<String>) {
        self.logs += 1;
        match wrong {
            None => self.right += 1,
            Some(words) => self.wrong.push(words),
        }
    }
}

fn words(check: &Judged) -> String {
    let fault = check.fault.as_ref().map(|fault| fault.message.clone()).unwrap_or_default();
    format!("{} {} {}{fault}", check.id, check.verdict.words(), check.missing.join("; "))
}

fn good(bench: &Bench, kinds: &[good::Good], (seed, count): (u64, usize)) -> Vec<Line> {
    let line = |kind: &good::Good| {
        let mut line = Line { name: kind.name, ..Line::default() };
        for number in 0..count {
            let mut dice = Dice::new(seed, &format!("{} {number}", kind.name));
            let story = (kind.tell)(&mut dice);
            let (checks, said) = bench.judge(&story, &mut dice);
            let refused: Vec<&Judged> = checks
                .iter()
                .filter(|check| match check.verdict {
                    Verdict::Met => false,
                    Verdict::NotShown => !kind.cannot.contains(&check.id.as_str()),
                    Verdict::NotMet => true,
                })
                .collect();
            for check in &refused {
                *line.by.entry(check.id.clone()).or_default() += 1;
            }
            line.passed += usize::from(checks.iter().all(|check| check.verdict == Verdict::Met));
            let all: Vec<String> = refused.iter().map(|check| words(check)).collect();
            line.take((!all.is_empty()).then(|| format!("no. {number} ({} {said}): {}", story.family, all.join(", "))));
        }
        line
    };
    kinds.iter().map(line).collect()
}

fn bad(bench: &Bench, kinds: &[bad::Bad], (seed, count): (u64, usize)) -> Vec<Line> {
    let line = |kind: &bad::Bad| {
        let mut line = Line { name: kind.name, ..Line::default() };
        for number in 0..count {
            let mut dice = Dice::new(seed, &format!("{} {number}", kind.name));
            let mut story = Story::good(bad::way(&mut dice), &mut dice);
            (kind.change)(&mut story, &mut dice);
            let (checks, said) = bench.judge(&story, &mut dice);
            for check in checks.iter().filter(|check| check.verdict != Verdict::Met) {
                *line.by.entry(check.id.clone()).or_default() += 1;
            }
            line.passed += usize::from(checks.iter().all(|check| check.verdict == Verdict::Met));
            let objects = |check: &Judged| check.verdict != Verdict::Met && kind.objects.contains(&check.id.as_str());
            let blamed =
                |check: &&Judged| check.verdict == Verdict::NotMet && kind.innocent.contains(&check.id.as_str());
            let innocent: Vec<String> = checks.iter().filter(blamed).map(words).collect();
            let of = format!(
                "no. {number} ({} {said}, each {} s, {} decimals)",
                story.family, story.interval, story.decimals
            );
            line.take(if !innocent.is_empty() {
                Some(format!("{of}: {}", innocent.join(", ")))
            } else {
                (!checks.iter().any(objects)).then(|| format!("{of}: what should object does not"))
            });
        }
        line
    };
    kinds.iter().map(line).collect()
}

fn matrix(title: &str, lines: &[Line]) -> String {
    let mut text = format!("\n{title:54}logs  all met  right  not met or not shown\n");
    for line in lines {
        let mut by: Vec<(&String, &usize)> = line.by.iter().collect();
        by.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        let by: Vec<String> = by.iter().map(|(id, count)| format!("{id} {count}")).collect();
        let _ =
            writeln!(text, "{:54}{:4}  {:7}  {:5}  {}", line.name, line.logs, line.passed, line.right, by.join(", "));
        for wrong in line.wrong.iter().take(3) {
            let _ = writeln!(text, "    WRONG {wrong}");
        }
    }
    let sum = |of: fn(&Line) -> usize| lines.iter().map(of).sum::<usize>();
    let _ = writeln!(
        text,
        "{:54}{:4}  {:7}  {:5}",
        "all",
        sum(|line| line.logs),
        sum(|line| line.passed),
        sum(|line| line.right)
    );
    text
}

fn judged((good_ones, bad_ones): (&[good::Good], &[bad::Bad]), seed: u64, count: usize) {
    let bench = Bench::new();
    let (good, bad) = (good(&bench, good_ones, (seed, count)), bad(&bench, bad_ones, (seed, count)));
    let text = format!("seed {seed}\n{}{}", matrix("good logs", &good), matrix("bad logs", &bad));
    println!("{text}");
    assert!(good.iter().chain(&bad).all(|line| line.wrong.is_empty()), "{text}");
}

fn seed() -> u64 {
    std::env::var("STANDPIPE_KNOWN_LOGS").ok().and_then(|seed| seed.parse().ok()).unwrap_or(SEED)
}

#[test]
fn nothing_bad_passes_and_nothing_good_is_refused() {
    judged((good::GOOD, bad::BAD), SEED, 2);
}

#[test]
#[ignore = "prints the whole matrix"]
fn the_matrix() {
    judged((good::GOOD, bad::BAD), seed(), 12);
}

#[test]
#[ignore = "prints the matrix of what was not looked at while mending"]
fn the_matrix_of_the_unseen() {
    println!("{}", matrix("what is known to pass", &bad(&Bench::new(), unseen::PASSES, (seed(), 12))));
    judged((unseen::GOOD, unseen::BAD), seed(), 12);
}
