//! An audit beside a plain parse and hash of the same events, in one run: `cargo bench --bench audit`.
//!
//! The job is an example of two days' work, as the program keeps it. The plain work takes each line of its journal with a
//! JSON parser and hashes its bytes, and does nothing with either. Instructions are counted where the machine lets them be;
//! where not, valgrind can: `--turns N` with `--only PART` does that part N times and nothing else.
//! Without `--bench`, as `cargo test` calls it, everything is done once.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[path = "../folders.rs"]
mod folders;

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use folders::copy;
use sha2::{Digest, Sha256};
use standpipe::audit::{Asked, Verdict, audit_all};
use standpipe::job::journal::{Contents, LINES};
use standpipe::job::replay::{batches, replay, verify};
use standpipe::job::{Journal, Machine};
use standpipe::plan::{Kept, kept};

mod counter;

use counter::Counter;

const JOB: &str = "heron-van";

/// The journal of the example, written by the program.
fn written(folder: &Path) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let done = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .arg("run")
        .arg(root.join(format!("jobs/{JOB}.yaml")))
        .arg("--answers")
        .arg(root.join(format!("answers/{JOB}.yaml")))
        .arg("--journal")
        .arg(folder)
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

struct Bench {
    folders: Vec<PathBuf>,
    lines: Vec<u8>,
    contents: Contents,
    machine: Machine,
}

impl Bench {
    fn parse_and_hash(&self) {
        let mut prev = String::new();
        for line in self.lines.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
            black_box(serde_json::from_slice::<serde_json::Value>(line).unwrap());
            prev = format!("{:x}", Sha256::digest(line));
        }
        black_box(prev);
    }

    fn decide(&self) {
        assert!(verify(&self.machine, &self.contents.records, &self.contents.ends).is_empty());
    }

    fn audit(&self, count: usize) {
        let audited = audit_all(&self.folders[..count], &Asked::default(), &|_| {});
        assert!(audited.iter().all(|one| one.verdict != Verdict::DoesNotHold));
    }
}

/// Name, how many journals it is for, and the work.
type Part<'a> = (&'static str, usize, Box<dyn Fn() + 'a>);

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let after = |option: &str| arguments.iter().position(|one| one == option).and_then(|at| arguments.get(at + 1));
    let turns = match arguments.iter().any(|one| one == "--bench") {
        true => after("--turns").and_then(|text| text.parse().ok()).unwrap_or(20),
        false => 1,
    };
    let dir = tempfile::tempdir().unwrap();
    let folders: Vec<PathBuf> = (0..20).map(|n| dir.path().join(format!("{n}.job"))).collect();
    written(&folders[0]);
    folders[1..].iter().for_each(|folder| copy(&folders[0], folder));
    let contents = Journal::read(&folders[0]).unwrap();
    let machine = Machine::new(kept(&contents.plan, "plan.json").unwrap());
    let lines = fs::read(folders[0].join(LINES)).unwrap();
    let bench = Bench { folders, lines, contents, machine };
    let inputs = batches(&bench.contents.records, &bench.contents.ends).len();
    println!(
        "{JOB}: {inputs} inputs, {} events, {} kB of journal",
        bench.contents.records.len(),
        bench.lines.len() / 1000
    );
    let text = &bench.contents.plan;
    let mut plans = Kept::default();
    plans.plan(text, "plan.json").unwrap();
    let plans = std::cell::RefCell::new(plans);
    let parts: [Part<'_>; 8] = [
        ("parse and hash the events", 1, Box::new(|| bench.parse_and_hash())),
        ("read the journal", 1, Box::new(|| drop(black_box(Journal::read(&bench.folders[0]).unwrap())))),
        ("add the events up", 1, Box::new(|| drop(black_box(replay(&bench.contents.records))))),
        ("decide all inputs again", 1, Box::new(|| bench.decide())),
        ("build the plan", 1, Box::new(|| drop(black_box(kept(text, "plan.json").unwrap())))),
        ("build a plan like it", 1, Box::new(|| drop(black_box(plans.borrow_mut().plan(text, "plan.json").unwrap())))),
        ("audit one journal", 1, Box::new(|| bench.audit(1))),
        ("audit 20 journals", 20, Box::new(|| bench.audit(20))),
    ];
    let only = after("--only");
    let counter = Counter::new();
    println!("{:<28} {:>10} {:>14} {:>10}", "", "ms each", "instructions", "x plain");
    let mut plain = None;
    for (name, count, run) in parts.iter().filter(|(name, ..)| only.is_none_or(|only| only == name)) {
        run();
        let best = (0..turns).map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64() / *count as f64
        });
        let best = best.fold(f64::INFINITY, f64::min);
        // The counter hears this thread alone.
        let counted = counter.as_ref().filter(|_| *count == 1).map(|counter| counter.count(1, run));
        let shown = counted.map_or_else(|| "-".to_owned(), |count| format!("{count:.0}"));
        let plain = *plain.get_or_insert(best);
        println!("{name:<28} {:>10.3} {shown:>14} {:>10.1}", best * 1e3, best / plain);
    }
}
