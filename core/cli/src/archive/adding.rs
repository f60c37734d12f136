//! Adds jobs to an archive, and says what became of them.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::{Args, SCHEMA};
use crate::Exit;
use crate::context::Context;
use crate::job_folder::{about, journals};
use standpipe_archive::{Added, Source, add};
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use standpipe_job::Journal;
use standpipe_pack::is_pack;
use standpipe_report::count;

pub fn run(args: &Args, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let sources: Vec<Source> = args.jobs.iter().map(|jobs| source(jobs, context, &mut problems)).collect();
    let found: usize = sources.iter().map(|source| source.folders.len()).sum();
    if found == 0 && has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    match add(&sources, &args.into, args.words) {
        Ok(mut added) => {
            problems.append(&mut added.problems);
            let exit = if has_errors(&problems) { Exit::NotMet } else { Exit::Well };
            context.report(&problems);
            if context.json() {
                context.out_json(&json!({
                    "schema": SCHEMA, "ok": exit == Exit::Well, "closed": added.closed, "open": added.open,
                    "known": added.known, "left_aside": added.left_aside, "rows": added.rows, "bytes": added.bytes,
                    "keys": added.keys, "problems": problems_json(&problems),
                }));
            } else {
                context.out(&text(&args.into, &added));
            }
            exit
        }
        Err(problem) => {
            problems.push(*problem);
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

/// The jobs below a path. The key lies beside the shop file; where none is named, beside the jobs.
fn source(jobs: &Path, context: &Context, problems: &mut Problems) -> Source {
    let parent = |path: &Path| path.parent().map(Path::to_owned).unwrap_or_default();
    let key = match &context.common.shop {
        Some(shop) => parent(shop),
        None if jobs.is_dir() && !Journal::is_in(jobs) => jobs.to_owned(),
        None => parent(jobs),
    };
    let key = if key.as_os_str().is_empty() { PathBuf::from(".") } else { key };
    let mut folders = journals(&[jobs.to_owned()], problems);
    folders.retain(|folder| {
        let pack = is_pack(folder);
        if pack {
            problems.push(packed(folder));
        }
        !pack
    });
    Source { folders, key }
}

fn packed(pack: &Path) -> Diagnostic {
    about(pack, Code::UnreadableFile, format!("`{}` is a pack, which was made to be handed over", pack.display()))
        .expected("the folder of the job")
        .help("take it out of the zip first")
}

fn text(into: &Path, added: &Added) -> String {
    let mut text = format!("{}: {} added", into.display(), count(added.closed as usize, "closed job"));
    let mut tell = |number: u64, what: &str| {
        if number > 0 {
            text.push_str(&format!(", {number} {what}"));
        }
    };
    tell(added.open, "not closed as they stand now");
    tell(added.known, "there before");
    tell(added.left_aside, "left aside");
    text.push('\n');
    if added.bytes > 0 {
        let rows: Vec<String> = added.rows.iter().map(|(table, rows)| format!("{table} {rows}")).collect();
        text.push_str(&format!("rows: {}; {} bytes\n", rows.join(", "), added.bytes));
    }
    for key in &added.keys {
        text.push_str(&format!(
            "made {}: without it nobody can tell who is who; keep a copy, and keep it secret\n",
            key.display()
        ));
    }
    text
}
