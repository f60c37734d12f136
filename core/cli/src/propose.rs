//! `propose`: what finished jobs say of the values of their family.

use std::path::PathBuf;

use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::about;
use super::new::folder::{Folder, titled};
use super::no_job::without_job;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::plan::{Inputs, Parsed, Plan, build, typed};
use standpipe_library::Kind;
use standpipe_report::proposal::{self, Proposals};

const SCHEMA: &str = "standpipe.propose/1";

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The family, or `FAMILY/VARIANT`
    #[arg(value_name = "FAMILY")]
    pub of: String,
    /// Where finished jobs are
    #[arg(value_name = "JOBS")]
    pub jobs: PathBuf,
    /// The procedure by which they were done; needed where the family can have several
    #[arg(long, value_name = "ID")]
    pub procedure: Option<String>,
    /// Write what differs as an overlay: into a new plugin in this folder, or into the plugin that it is
    #[arg(long, value_name = "DIR")]
    pub into: Option<PathBuf>,
}

pub fn run(args: &Args, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let Some((all, plan, written)) = done(args, context, &mut problems) else {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    context.report(&problems);
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": true, "said": all, "files": written, "problems": problems_json(&problems),
        }));
        return Exit::Well;
    }
    context.out(&proposal::text(&all, &plan, context.width(), context.color_out()));
    for file in &written {
        context.out(&format!("wrote {}\n", file.display()));
    }
    if args.into.is_some() && written.is_empty() {
        context.out("Nothing is written: nothing differs.\n");
    }
    Exit::Well
}

/// What the jobs say, and the files that were written of it.
fn done(args: &Args, context: &Context, problems: &mut Problems) -> Option<(Proposals, Plan, Vec<PathBuf>)> {
    let (all, plan) = gathered(args, context, problems)?;
    if args.into.is_none() {
        return Some((all, plan, Vec::new()));
    }
    match write(args, &all, &plan) {
        Ok(written) => Some((all, plan, written)),
        Err(problem) => {
            problems.push(*problem);
            None
        }
    }
}

fn gathered(args: &Args, context: &Context, problems: &mut Problems) -> Option<(Proposals, Plan)> {
    if !args.jobs.is_dir() {
        let problem = about(&args.jobs, Code::UnreadableFile, format!("there is no folder {}", args.jobs.display()));
        problems.push(problem.help("name the folder with the journals of finished jobs"));
        return None;
    }
    let (files, shop) = context.files(None, problems);
    let job = without_job(&args.of, args.procedure.as_deref(), &files, problems)?;
    let plan = build(Inputs::new(job, shop, files), problems)?;
    if let (None, Some(first)) = (&plan.job.variant, plan.family.variants.keys().next()) {
        let all: Vec<&str> = plan.family.variants.keys().map(String::as_str).collect();
        let at = typed("<FAMILY>", &args.of);
        problems.push(
            Diagnostic::error(Code::WrongArguments, &at.place, "which variant? Jobs of several are not alike")
                .expected(all.join(", "))
                .help(format!("write e.g. `{}/{first}`", plan.family.id)),
        );
        return None;
    }
    if plan.main().proposes.is_empty() {
        let at = typed("--procedure", &plan.procedure);
        problems.push(
            Diagnostic::error(Code::WrongArguments, &at.place, format!("`{}` proposes nothing", plan.procedure))
                .help("a procedure says under `proposes:` which values of the family its jobs speak of"),
        );
        return None;
    }
    let all = proposal::gather(&plan, &args.jobs);
    if all.jobs == 0 {
        let message =
            format!("there is no finished job of `{}` by `{}` below {}", args.of, plan.procedure, args.jobs.display());
        let why = all.aside.first().map(|aside| format!("; {}: {}", aside.job, aside.why)).unwrap_or_default();
        let problem = about(&args.jobs, Code::WrongArguments, format!("{message}{why}"));
        problems.push(problem.help("`standpipe jobs FOLDER --all` lists the jobs below a folder"));
        return None;
    }
    Some((all, plan))
}

/// The files that were written: none where nothing differs.
fn write(args: &Args, all: &Proposals, plan: &Plan) -> Result<Vec<PathBuf>, Box<Diagnostic>> {
    let id = format!("proposed-{}", args.of.replace('/', "-"));
    let mut folder = Folder::new(&id, args.into.as_deref())?;
    let Some(text) = proposal::overlay(all, plan, &id, &folder.id) else { return Ok(Vec::new()) };
    let parsed = Parsed::new(plan.snapshot.files.clone(), &mut Problems::new());
    let of = |kind: Kind, id: &str| parsed.library.document(kind, id).map(|document| document.plugin.as_str());
    let mut needs: Vec<&str> =
        [of(Kind::Procedure, &plan.procedure), of(Kind::Family, &plan.family.id)].into_iter().flatten().collect();
    needs.dedup();
    folder.write(&titled(&id), &needs, &[(Kind::Overlay, &id, text)])?;
    Ok(folder.written().to_vec())
}
