//! Worked examples that plugins carry: what is given, what is expected, and where the expected value is from.
//!
//! A case runs a sheet, a job from an answers file, many simulated jobs, or the check of a file with a fault. It runs on the same
//! code as the work itself, and what it needs lies in its plugin.

mod compare;
mod coverage;
mod faulty;
mod job;
pub mod made;
mod raw;
mod sheet;
mod simulation;
mod written;

pub use coverage::{Coverage, Reached};
pub use job::texts;
pub use raw::schema;
pub use written::{Case, What, uncovered};

use std::path::PathBuf;

use crate::Stock;
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Place;
use standpipe_job::plan::Parsed;
use standpipe_library::Files;

/// Everything that cases run on.
pub struct Bench<'a> {
    pub files: &'a Files,
    pub parsed: &'a Parsed,
    pub stock: &'a Stock,
    /// Where the journals of jobs are kept while they run.
    pub scratch: PathBuf,
}

/// One thing that a case expects, and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    pub what: String,
    pub expected: String,
    pub found: String,
    pub difference: Option<String>,
    pub tolerance: Option<String>,
    pub holds: bool,
    pub place: Place,
}

/// How a case went.
#[derive(Debug)]
pub struct Report {
    pub case: String,
    pub plugin: String,
    pub kind: &'static str,
    pub of: String,
    pub place: Place,
    pub lines: Vec<Line>,
    /// What kept it from running, or what it said that nobody expected.
    pub problems: Problems,
    pub reached: Reached,
}

impl Report {
    pub fn holds(&self) -> bool {
        self.problems.is_empty() && self.lines.iter().all(|line| line.holds)
    }
}

/// Runs one case.
pub fn run(case: &Case, bench: &Bench<'_>) -> Report {
    let mut report = Report {
        case: case.id.value.clone(),
        plugin: case.plugin.clone(),
        kind: case.what.word(),
        of: case.what.of().to_owned(),
        place: case.id.place.clone(),
        lines: Vec::new(),
        problems: Problems::new(),
        reached: Reached::default(),
    };
    match &case.what {
        What::Sheet { sheet, given, expect } => sheet::run(sheet, given, expect, bench, &mut report),
        What::Job(job) => job::run(job, case, bench, &mut report),
        What::Simulation(simulation) => simulation::run(simulation, bench, &mut report),
        What::Faulty { path, text, expect } => faulty::run(path, text, expect, case, bench, &mut report),
    }
    report
}
