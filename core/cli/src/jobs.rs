//! `jobs`: open jobs below a folder, where each stands and what is open.
//!
//! A shop has thousands of finished jobs and a few open ones: of the finished only the last line is read.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::Exit;
use super::args::Jobs;
use super::context::Context;
use super::defect::one_of_many;
use super::job_folder::{about, defect};
use standpipe_diagnostic::{Code, Problems, has_errors, json as problems_json};
use standpipe_job::{Hold, OpenJob, journal};
use standpipe_report::jobs;

const SCHEMA: &str = "standpipe.jobs/1";

pub fn run(args: &Jobs, context: &Context) -> Exit {
    if !args.path.exists() {
        let problem = about(&args.path, Code::UnreadableFile, format!("there is no {}", args.path.display()));
        context.failed(SCHEMA, &[problem.help("name the folder where the job files lie")]);
        return Exit::Usage;
    }
    let mut problems = Problems::new();
    let mut rows = Vec::new();
    let folders = journal::below(&args.path);
    let closed = if args.all { vec![false; folders.len()] } else { finished(&folders) };
    let finished = closed.iter().filter(|closed| **closed).count();
    for folder in folders.into_iter().zip(closed).filter_map(|(folder, closed)| (!closed).then_some(folder)) {
        // One job that can't be read hides no other, and is itself not hidden.
        let row = one_of_many(|| read(&folder)).unwrap_or_else(|| Err(vec![defect(&folder)]));
        let row = match row {
            Ok((row, found)) => {
                problems.extend(found);
                row
            }
            Err(faults) => {
                let why = faults.first().map_or("it can't be read", |fault| fault.message.as_str());
                let row = jobs::unread(&folder, why);
                problems.extend(faults);
                row
            }
        };
        if args.all || row.open {
            rows.push(row);
        }
    }
    // The list is whole only if every journal could be read.
    let exit = if has_errors(&problems) { Exit::NotMet } else { Exit::Well };
    context.report(&problems);
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "jobs": rows, "finished": finished, "problems": problems_json(&problems),
        }));
    } else {
        context.out(&jobs::text(&rows, finished, context.width(), context.color_out()));
    }
    exit
}

/// Which of them say that they are finished. The disk is what is waited for, so more than one is asked for at a time.
fn finished(folders: &[PathBuf]) -> Vec<bool> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let part = folders.len().div_ceil(threads).max(1);
    let one = |folders: &[PathBuf]| -> Vec<bool> {
        folders.iter().map(|folder| journal::finished_at(folder).is_some()).collect()
    };
    std::thread::scope(|scope| {
        let parts: Vec<_> = folders.chunks(part).map(|part| (part, scope.spawn(move || one(part)))).collect();
        // One that failed is read like any that is open.
        parts.into_iter().flat_map(|(part, run)| run.join().unwrap_or_else(|_| vec![false; part.len()])).collect()
    })
}

/// Its row, and what was found when it was read.
fn read(folder: &Path) -> Result<(jobs::Row, Problems), Problems> {
    let job = OpenJob::open(folder, Hold::Look)?;
    Ok((jobs::row(job.machine(), job.records(), folder), job.problems().clone()))
}
