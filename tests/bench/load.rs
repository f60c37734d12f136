//! How time grows with what there is: entries of a job, rows of a log, jobs of a folder, families of a plugin.
//! `cargo bench --bench load`, or one alone with `-- --only families`; `--times 4` makes each size so many times as large.
//!
//! Each is done at three sizes that double. A slope of 1 is linear, 2 is quadratic: a bench whose slope is above its own limit
//! fails. Entries have a wider one: every decision still looks through what was entered before it, at some 14 ns an entry, which
//! one reading made 10,000 times comes to; what is entered once is found sooner. Without `--bench`, as `cargo test` calls it, everything is done once and small, and no slope is judged.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[path = "../folders.rs"]
mod folders;

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

use indexmap::IndexMap;
use standpipe::audit::{Asked, Verdict, audit_all};
use standpipe::check;
use standpipe::diagnostic::Problems;
use standpipe::job::plan::{Inputs, build};
use standpipe::job::replay::verify;
use standpipe::job::{Entry, Hold, Input, Machine, OpenJob, Origin, State, What, journal};
use standpipe::library::{File, Files, Kind, Layer};
use standpipe::log::{Choices, Collected, Description};
use standpipe::plan::Parsed;
use standpipe::source::Source;

/// With the noise of a machine that does other things too.
const LINEAR: f64 = 1.3;
/// A look through a list that grows. What copied the list as well took eighty times as long.
const LOOKS_THROUGH: f64 = 2.1;

const TEXTS: [(&str, &str); 4] = [
    (
        "plugin.yaml",
        "plugin: kilns\nversion: \"1.0.0\"\ntitle: Kilns\nplugins: [units]\nlicence: MIT\nauthor: tests\ninvented: true\n",
    ),
    ("forms/kiln.yaml", "form: kiln\ntitle: Kiln\nfields: { hottest: { is: temperature, required: true } }\n"),
    (
        "families/north.yaml",
        "family: north\nform: kiln\ntitle: North\ninvented: true\nhottest: 1280 degC\nsources: [{ covers: all, from: invented }]\n",
    ),
    (
        "procedures/firing.yaml",
        "procedure: firing\nform: kiln\ntitle: Fire the kiln\nsteps:\n\
         - id: warm\n  title: Read it\n  read: { heat: { is: temperature } }\n  gate: { must: heat <= spec.hottest, otherwise: wait }\n\
         - { id: close, title: Close it, do: Close the damper. }\n",
    ),
];

fn kilns() -> Files {
    let mut files = Files::built_in();
    files.list.extend(TEXTS.map(|(path, text)| File::new(Layer::Given(1), "kilns", path, text)));
    files
}

/// A job in which one reading is made again and again, and each is decided; then all are decided again.
fn entries(count: usize) -> f64 {
    let job = Source::new("job.yaml", "job: F-1\nfamily: north\nprocedure: firing\n");
    let mut problems = Problems::new();
    let plan = build(Inputs::new(job, None, kilns()), &mut problems).unwrap_or_else(|| panic!("{problems:?}"));
    let machine = Machine::new(plan);
    let (mut state, mut records, mut ends) = (State::default(), Vec::new(), Vec::new());
    let started = Instant::now();
    for number in 0..count {
        let typed = IndexMap::from([("heat".to_owned(), format!("{} degC", 1290 + number % 7))]);
        let what = if number == 0 {
            What::Open
        } else {
            What::Enter(Entry { step: "warm".into(), typed, ..Entry::default() })
        };
        let at = "2026-11-23T08:00:00+01:00".parse().unwrap();
        let input = Input { at, entered_at: None, by: "ann".to_owned(), origin: Origin::Answers, what };
        let made = machine.decide(&state, &input).unwrap();
        made.iter().for_each(|record| state.apply(record));
        ends.extend(made.last().map(|record| record.seq));
        records.extend(made);
    }
    assert!(verify(&machine, &records, &ends).is_empty());
    assert!(records.len() >= 2 * count - 2, "each was judged");
    started.elapsed().as_secs_f64()
}

/// Rows of a log, read and kept for its checks.
fn rows(count: usize) -> f64 {
    let mut text = String::from("Time,Sump temp [°C],Bay temp [°C],Engine speed [rpm],Selector\n");
    for at in 0..count {
        let (hours, minutes, seconds, tenth) = (at / 36_000 % 16 + 8, at / 600 % 60, at / 10 % 60, at % 10);
        let wave = (at as f64 / 9_000.0).sin() * 20.0 + 45.0;
        writeln!(text, "{hours:02}:{minutes:02}:{seconds:02}.{tenth},{wave:.1},19.2,700,D").unwrap();
    }
    let mut problems = Problems::new();
    let parsed = Parsed::new(Files::built_in(), &mut problems);
    let document = parsed.library.documents(Kind::Log).next().unwrap();
    let description = Description::read(&document.source, &parsed.units, &mut problems).unwrap();
    let started = Instant::now();
    let read = Collected::read(text.as_bytes(), &description.wanted, Choices::default(), &parsed.units);
    let taken = started.elapsed().as_secs_f64();
    assert_eq!(read.ok().unwrap().tally.rows, count as u64);
    taken
}

/// A folder of jobs: listed as `jobs` does, and audited.
fn jobs(count: usize) -> f64 {
    let dir = tempfile::tempdir().unwrap();
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/journals/1/amended-kiln");
    for number in 0..count {
        folders::copy(&kept, &dir.path().join(format!("{number}.job")));
    }
    let started = Instant::now();
    let found: Vec<PathBuf> = journal::below(dir.path());
    assert_eq!(found.len(), count);
    for folder in &found {
        assert!(!OpenJob::open(folder, Hold::Look).unwrap().records().is_empty());
    }
    let audited = audit_all(&found, &Asked::default(), &|_| {});
    assert!(audited.iter().all(|one| one.verdict != Verdict::DoesNotHold));
    started.elapsed().as_secs_f64()
}

/// Families of one plugin, checked as `check` does.
fn families(count: usize) -> f64 {
    let mut files = kilns();
    for number in 0..count {
        let text = TEXTS[2].1.replace("north", &format!("north-{number}"));
        let path = format!("families/north-{number}.yaml");
        files.list.push(File::new(Layer::Given(1), "kilns", &path, &*text));
    }
    let started = Instant::now();
    let mut problems = Problems::new();
    let parsed = Parsed::new(files, &mut problems);
    check::library(&parsed, None, &mut problems);
    assert!(!problems.iter().any(|problem| problem.is_error()), "{:?}", problems.first());
    started.elapsed().as_secs_f64()
}

/// Name, the smallest size of a bench and of a test, the steepest slope, most microseconds for each at the largest size, and
/// the work.
type Part = (&'static str, usize, usize, f64, f64, fn(usize) -> f64);

const PARTS: [Part; 4] = [
    ("entries", 2_500, 20, LOOKS_THROUGH, 1_000.0, entries),
    ("rows", 500_000, 200, LINEAR, 5.0, rows),
    ("jobs", 50, 2, LINEAR, 50_000.0, jobs),
    ("families", 250, 2, LINEAR, 5_000.0, families),
];

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let after = |option: &str| arguments.iter().position(|one| one == option).and_then(|at| arguments.get(at + 1));
    let timed = arguments.iter().any(|one| one == "--bench");
    let times: usize = after("--times").and_then(|text| text.parse().ok()).unwrap_or(1);
    let only = after("--only");
    let mut steep = Vec::new();
    println!("{:<10} {:>10} {:>10} {:>10} {:>8}", "", "size", "seconds", "us each", "slope");
    for (name, large, small, steepest, most, run) in
        PARTS.into_iter().filter(|(name, ..)| only.is_none_or(|only| only == name))
    {
        let sizes = [1, 2, 4].map(|by| by * if timed { large * times } else { small });
        // What disturbs only makes it longer.
        let turns = if timed { 2 } else { 1 };
        let seconds = sizes.map(|size| (0..turns).map(|_| run(size)).fold(f64::INFINITY, f64::min));
        for (size, taken) in sizes.iter().zip(seconds) {
            println!("{name:<10} {size:>10} {taken:>10.3} {:>10.1}", taken / *size as f64 * 1e6);
        }
        let slope = (seconds[2] / seconds[0]).log2() / 2.0;
        println!("{name:<10} {:>42.2}", slope);
        if slope > steepest || seconds[2] / sizes[2] as f64 * 1e6 > most {
            steep.push(name);
        }
    }
    assert!(!timed || steep.is_empty(), "these grow faster than what there is: {}", steep.join(", "));
}
