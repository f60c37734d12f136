//! `--merge`: runs that were done elsewhere, told as if they had been done here.

use std::ops::Range;
use std::path::PathBuf;

use serde::Deserialize;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::sha256;
use standpipe_library::Files;
use standpipe_simulate::{Settings, Tally};

use crate::job_folder::about;

/// The part of a kept outcome that counts.
#[derive(Deserialize)]
struct Kept {
    simulation: Simulation,
}

#[derive(Deserialize)]
struct Simulation {
    of: String,
    partial: bool,
    runs: Vec<(u32, u32)>,
    counts: Tally,
}

/// What all runs follow from: parts of one simulation have it in common, wherever they were done.
pub fn of(files: &Files, shop: Option<&str>, question: &[&str], settings: &Settings) -> String {
    let mut text = format!("{question:?} {settings:?} {shop:?}\n");
    for file in &files.list {
        text.push_str(&format!("{} {} {}\n", file.plugin, file.path, sha256(file.source.text.as_bytes())));
    }
    sha256(text.as_bytes())
}

/// Adds up what stands in files that `--format json` wrote. Errors: a file that is no such outcome, or of other texts, settings
/// or people, or broken off; a run that stands in two of them.
pub fn merged(paths: &[PathBuf], of: &str, tally: &mut Tally, problems: &mut Problems) -> Option<Vec<Range<u32>>> {
    let mut ranges: Vec<(Range<u32>, &PathBuf)> = Vec::new();
    for path in paths {
        let faulty = |message: String| Box::new(about(path, Code::WrongArguments, message));
        let read = standpipe_disk::text(path, standpipe_disk::TEXT).map_err(|fault| faulty(fault.to_string()));
        let one = read.and_then(|text| {
            let kept: Kept = serde_json::from_str(&text)
                .map_err(|fault| faulty(format!("this is not a simulation as `--format json` writes it: {fault}")))?;
            fits(kept.simulation, of, tally, &faulty)
        });
        match one {
            Ok(one) => {
                ranges.extend(one.runs.iter().map(|(first, end)| (*first..*end, path)));
                tally.merge(one.counts);
            }
            Err(problem) => problems.push(*problem),
        }
    }
    ranges.sort_by_key(|(runs, _)| runs.start);
    for pair in ranges.windows(2) {
        let ((one, _), (other, path)) = (&pair[0], &pair[1]);
        if other.start < one.end {
            let message = format!("run {} is in two of them", other.start);
            problems.push(about(path, Code::WrongArguments, message).help("name each part once"));
        }
    }
    if problems.iter().any(Diagnostic::is_error) {
        return None;
    }
    Some(ranges.into_iter().map(|(runs, _)| runs).collect())
}

fn fits(
    one: Simulation,
    of: &str,
    tally: &Tally,
    faulty: &dyn Fn(String) -> Box<Diagnostic>,
) -> Result<Simulation, Box<Diagnostic>> {
    if one.of != of {
        let message = "this was made with other texts, people, seed or settings".to_owned();
        return Err(Box::new(faulty(message).help("merge with the command that made the parts, except for `--runs`")));
    }
    if one.partial {
        return Err(faulty("this was interrupted: nobody can tell which of its runs are in it".to_owned()));
    }
    let runs: u64 = one.runs.iter().map(|(first, end)| u64::from(end.saturating_sub(*first))).sum();
    if !one.counts.is_like(tally) || one.counts.jobs != runs {
        return Err(faulty("its counts do not match its runs".to_owned()));
    }
    Ok(one)
}

/// Ranges that follow on one another as one.
pub fn joined(ranges: Vec<Range<u32>>) -> Vec<(u32, u32)> {
    let mut all: Vec<(u32, u32)> = Vec::new();
    for runs in ranges {
        match all.last_mut() {
            Some(last) if last.1 == runs.start => last.1 = runs.end,
            _ => all.push((runs.start, runs.end)),
        }
    }
    all
}
