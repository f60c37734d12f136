//! `audit`: replays journals and says what of them does not hold.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::Exit;
use super::args::Audit;
use super::context::Context;
use super::job_folder::{about, folder_of};
use crate::audit::{Asked, Audited, Verdict, audit_all};
use crate::diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use crate::job::journal;
use crate::library::{Files, Layer};
use crate::render;

const SCHEMA: &str = "standpipe.audit/1";

pub fn run(args: &Audit, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let folders = folders(&args.paths, &mut problems);
    let seal = args.seal.as_deref().and_then(|seal| seal_of(seal, folders.len(), &mut problems));
    let against = args.against.as_deref().map(|folder| {
        let mut files = Files::default();
        files.add_folder(folder, Layer::Given(1), &mut problems);
        files
    });
    if has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    let audited = audit_all(&folders, &Asked { seal, against });
    let holds = audited.iter().all(|journal| journal.verdict != Verdict::DoesNotHold);
    let exit = if holds { Exit::Well } else { Exit::NotMet };
    context.report(&problems);
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "journals": audited, "problems": problems_json(&problems),
            "against": args.against,
        }));
    } else {
        context.out(&text(&audited, args, context));
    }
    exit
}

fn text(audited: &[Audited], args: &Audit, context: &Context) -> String {
    let mut text = render::audit::text(audited, context.width(), context.color_out());
    if let Some(against) = &args.against {
        text.push('\n');
        text.push_str(&render::audit::rechecks(audited, &against.display().to_string(), context.width()));
    }
    text
}

/// The journals that the paths name or hold, each once.
fn folders(paths: &[PathBuf], problems: &mut Problems) -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> = Vec::new();
    for path in paths {
        for folder in found(path, problems) {
            if !folders.contains(&folder) {
                folders.push(folder);
            }
        }
    }
    folders
}

fn found(path: &Path, problems: &mut Problems) -> Vec<PathBuf> {
    if !path.exists() {
        let problem = about(path, Code::F001, format!("there is no {}", path.display()));
        problems.push(problem.help("name a journal, or a folder that journals lie in"));
        return Vec::new();
    }
    if !path.is_dir() {
        return match folder_of(path) {
            Ok(folder) => vec![folder],
            Err(fault) => {
                problems.push(*fault);
                Vec::new()
            }
        };
    }
    let below = journal::below(path);
    if below.is_empty() {
        problems.push(
            about(path, Code::J004, format!("there is no journal in {} or below it", path.display()))
                .expected("folders of jobs, with a journal.jsonl and a plan.json in each")
                .help("`standpipe run` makes one for each job"),
        );
    }
    below
}

/// A seal may have been typed from paper: spaces and capitals do not matter.
fn seal_of(typed: &str, journals: usize, problems: &mut Problems) -> Option<String> {
    let seal: String = typed.split_whitespace().collect::<String>().to_lowercase();
    let argument = crate::plan::typed("<argument --seal>", typed);
    if journals > 1 {
        problems.push(
            Diagnostic::error(Code::J004, &argument.place, format!("one seal, and {journals} journals"))
                .expected("the journal that was sealed")
                .help("name its folder alone"),
        );
        return None;
    }
    if seal.len() != 64 || !seal.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        problems.push(
            Diagnostic::error(Code::J004, &argument.place, "this is no seal")
                .label(format!("found {} characters", seal.chars().count()))
                .expected("64 digits from 0 to 9 and a to f, as the record of the closed job prints them")
                .help("copy all of it"),
        );
        return None;
    }
    Some(seal)
}
