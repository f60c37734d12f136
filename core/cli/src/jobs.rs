//! `jobs`: open jobs below a folder, where each stands and what is open.
//!
//! A shop has thousands of finished jobs and a few open ones: of the finished only the last line is read.

use std::path::Path;

use serde_json::json;

use super::Exit;
use super::args::Jobs;
use super::context::Context;
use super::defect::one_of_many;
use super::job_folder::{about, defect};
use standpipe_audit::on_all_cores;
use standpipe_diagnostic::{Code, Problems, has_errors, json as problems_json};
use standpipe_job::{Hold, OpenJob, journal};
use standpipe_report::jobs;

const SCHEMA: &str = "standpipe.jobs/1";

pub fn run(args: &Jobs, context: &Context) -> Exit {
    if !args.path.exists() {
        let problem = about(&args.path, Code::UnreadableFile, format!("there is no {}", args.path.display()));
        context.failed(SCHEMA, &[problem.help("name the folder with the job files")]);
        return Exit::Usage;
    }
    let mut problems = Problems::new();
    let mut rows = Vec::new();
    let folders = journal::below(&args.path);
    // The disk is what is waited for, and then the jobs that are open.
    let read = on_all_cores(
        folders.len(),
        || (),
        |(), index| {
            let folder = &folders[index];
            let finished = !args.all && journal::finished_at(folder).is_some();
            // One job that can't be read hides no other, and is itself not hidden.
            (!finished).then(|| one_of_many(|| read(folder)).unwrap_or_else(|| Err(vec![defect(folder)])))
        },
    );
    let finished = read.iter().filter(|row| row.is_none()).count();
    for (folder, row) in folders.iter().zip(read).filter_map(|(folder, row)| Some((folder, row?))) {
        let row = match row {
            Ok((row, found)) => {
                problems.extend(found);
                row
            }
            Err(faults) => {
                let why = faults.first().map_or("it can't be read", |fault| fault.message.as_str());
                let row = jobs::unread(folder, why);
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

/// Its row, and what was found when it was read.
fn read(folder: &Path) -> Result<(jobs::Row, Problems), Problems> {
    let job = OpenJob::open(folder, Hold::Look)?;
    Ok((jobs::row(job.machine(), job.records(), folder), job.problems().clone()))
}
