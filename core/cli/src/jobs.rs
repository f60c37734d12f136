//! `jobs`: open jobs below a folder, where each stands and what is open.

use serde_json::json;

use super::Exit;
use super::args::Jobs;
use super::context::Context;
use super::job_folder::about;
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
    for folder in journal::below(&args.path) {
        match OpenJob::open(&folder, Hold::Look) {
            // One job that can't be read hides no other.
            Err(faults) => problems.extend(faults),
            Ok(job) => {
                problems.extend(job.problems().iter().cloned());
                let row = jobs::row(job.machine(), job.records(), &folder);
                if args.all || row.open {
                    rows.push(row);
                }
            }
        }
    }
    // The list is whole only if every journal could be read.
    let exit = if has_errors(&problems) { Exit::Usage } else { Exit::Well };
    context.report(&problems);
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "jobs": rows, "problems": problems_json(&problems),
        }));
    } else {
        context.out(&jobs::text(&rows, context.width(), context.color_out()));
    }
    exit
}
