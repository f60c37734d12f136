//! `jobs`: open jobs below a folder, where each stands and what is open.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::Exit;
use super::args::Jobs;
use super::context::Context;
use super::job_folder::{about, read};
use crate::diagnostic::{Code, Problems, json as problems_json};
use crate::job::Journal;
use crate::render::jobs;

const SCHEMA: &str = "standpipe.jobs/1";
/// Folders below this many others are no place for jobs.
const DEEPEST: usize = 6;

pub fn run(args: &Jobs, context: &Context) -> Exit {
    if !args.path.exists() {
        let problem = about(&args.path, Code::F001, format!("there is no {}", args.path.display()));
        context.failed(SCHEMA, &[problem.help("name the folder where the job files lie")]);
        return Exit::Usage;
    }
    let mut folders = Vec::new();
    find(&args.path, 0, &mut folders);
    let mut problems = Problems::new();
    let mut rows = Vec::new();
    for folder in folders {
        match read(&folder) {
            // One job that can't be read hides no other.
            Err(faults) => problems.extend(faults),
            Ok((machine, contents)) => {
                problems.extend(contents.problems.iter().cloned());
                let row = jobs::row(&machine, &contents.records, &folder);
                if args.all || row.open {
                    rows.push(row);
                }
            }
        }
    }
    context.report(&problems);
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": true, "jobs": rows, "problems": problems_json(&problems),
        }));
    } else {
        context.out(&jobs::text(&rows, context.width(), context.color_out()));
    }
    Exit::Well
}

fn find(folder: &Path, depth: usize, found: &mut Vec<PathBuf>) {
    if Journal::is_in(folder) {
        found.push(folder.to_owned());
        return;
    }
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    let mut inner: Vec<PathBuf> = entries
        .filter_map(|entry| entry.ok())
        // A link could lead round in circles.
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()))
        .map(|entry| entry.path())
        .filter(|path| !path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.')))
        .collect();
    inner.sort();
    if depth < DEEPEST {
        inner.iter().for_each(|path| find(path, depth + 1, found));
    }
}
