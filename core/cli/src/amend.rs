//! `amend`: a job that is under way goes on by corrected data.

use serde_json::json;

use super::Exit;
use super::args::Amend;
use super::context::Context;
use super::job_folder::folder_of;
use super::when;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Problems, has_errors, json as problems_json};
use standpipe_job::plan::renewed;
use standpipe_job::{Event, Hold, OpenJob};

const SCHEMA: &str = "standpipe.amend/1";

pub fn run(args: &Amend, context: &Context) -> Exit {
    let mut problems = Problems::new();
    match amended(args, context, &mut problems) {
        Some(job) => {
            context.report(&problems);
            told(&job, context, &problems);
            Exit::Well
        }
        None => {
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

fn amended(args: &Amend, context: &Context, problems: &mut Problems) -> Option<OpenJob> {
    let folder = folder_of(&args.job).map_err(|fault| problems.push(*fault)).ok()?;
    let (files, _) = context.files(None, problems);
    if has_errors(problems) {
        return None;
    }
    let mut job = OpenJob::open(&folder, Hold::Write).map_err(|faults| problems.extend(faults)).ok()?;
    let at = when::told(args.at.as_deref(), &job).map_err(|fault| problems.push(*fault)).ok()?;
    let plan = renewed(&job.plan().snapshot, &files).map_err(|faults| problems.extend(faults)).ok()?;
    let place = Place::whole(&Source::new(folder.display().to_string(), ""));
    let given = job.amend(plan, &args.by, &args.because, at);
    given.map_err(|not_kept| problems.push(not_kept.at(&place))).ok()?;
    Some(job)
}

/// What changed, and what came of it.
fn told(job: &OpenJob, context: &Context, problems: &Problems) {
    let from = job.records().iter().rposition(|record| matches!(record.event, Event::Amended { .. })).unwrap_or(0);
    let batch = &job.records()[from..];
    let Some(Event::Amended { changed, plan, .. }) = batch.first().map(|record| &record.event) else { return };
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": true, "plan": plan, "changed": changed,
            "events": batch, "problems": problems_json(problems),
        }));
        return;
    }
    let mut text = format!("Corrected data for job {}: {}\n", job.plan().job.id, changed.join(", "));
    for record in &batch[1..] {
        text.push_str(&match &record.event {
            Event::Judged { address, verdict, .. } => format!("  the gate of `{address}` is {} now\n", verdict.words()),
            Event::Computed { address, .. } => format!("  `{address}` is computed again\n"),
            Event::Settled { address, .. } => format!("  `{address}` is settled again\n"),
            Event::Ended { addresses, .. } => {
                let all: Vec<String> = addresses.iter().map(|address| format!("`{address}`")).collect();
                format!("  asked again: {}\n", all.join(", "))
            }
            _ => continue,
        });
    }
    context.out(&text);
}
