//! `propose`: what finished jobs say of the values of their family.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::about;
use super::new::folder::{Folder, titled};
use super::no_job::without_job;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::plan::{Inputs, Parsed, Plan, build, typed};
use standpipe_library::{Files, Kind};
use standpipe_report::proposal::{self, Gathered, Proposals, Work};

const SCHEMA: &str = "standpipe.propose/1";

#[derive(Debug, clap::Args)]
#[command(allow_missing_positional = true)]
pub struct Args {
    /// The family, or `FAMILY/VARIANT`; without it, every one that there are finished jobs of
    #[arg(value_name = "FAMILY")]
    pub of: Option<String>,
    /// Where finished jobs are
    #[arg(value_name = "JOBS", required = true)]
    pub jobs: PathBuf,
    /// The procedure by which they were done; needed where the family can have several
    #[arg(long, value_name = "ID", requires = "of")]
    pub procedure: Option<String>,
    /// Write what differs as an overlay: into a new plugin in this folder, or into the plugin that it is
    #[arg(long, value_name = "DIR")]
    pub into: Option<PathBuf>,
}

/// What the jobs say.
struct Said {
    all: Gathered,
    parsed: Parsed,
    written: Vec<PathBuf>,
}

pub fn run(args: &Args, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let Some(Said { all, written, .. }) = done(args, context, &mut problems) else {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    context.report(&problems);
    if context.json() {
        let mut told = json!({ "schema": SCHEMA, "ok": true, "files": written, "problems": problems_json(&problems) });
        let mut said = all.said.iter().map(|(said, _)| said);
        match &args.of {
            Some(_) => told["said"] = json!(said.next()),
            None => {
                told["families"] = json!(said.collect::<Vec<_>>());
                told["not_asked"] = json!(all.silent);
            }
        }
        context.out_json(&told);
        return Exit::Well;
    }
    for (said, plan) in &all.said {
        context.out(&proposal::text(said, plan, context.width(), context.color_out()));
    }
    context.out(&proposal::silent(&all.silent, context.width()));
    for file in &written {
        context.out(&format!("wrote {}\n", file.display()));
    }
    if args.into.is_some() && written.is_empty() {
        context.out("Nothing is written: nothing differs.\n");
    }
    Exit::Well
}

/// What the jobs say, and the files that were written of it.
fn done(args: &Args, context: &Context, problems: &mut Problems) -> Option<Said> {
    let mut said = gathered(args, context, problems)?;
    if let Some(into) = &args.into {
        match written(into, &said) {
            Ok(written) => said.written = written,
            Err(problem) => {
                problems.push(*problem);
                return None;
            }
        }
    }
    Some(said)
}

fn gathered(args: &Args, context: &Context, problems: &mut Problems) -> Option<Said> {
    if !args.jobs.is_dir() {
        let problem = about(&args.jobs, Code::UnreadableFile, format!("there is no folder {}", args.jobs.display()));
        problems.push(problem.help("name the folder with the journals of finished jobs"));
        return None;
    }
    let (files, shop) = context.files(None, problems);
    let parsed = Parsed::new(files.clone(), &mut Problems::new());
    let all = match &args.of {
        Some(of) => {
            let job = without_job(of, args.procedure.as_deref(), &parsed, problems)?;
            let plan = build(Inputs::new(job, shop, files), problems)?;
            let said = of_one(of, args, &plan, problems)?;
            Gathered { said: vec![(said, plan)], silent: Vec::new() }
        }
        None => of_all(args, &parsed, (files, shop), problems)?,
    };
    Some(Said { all, parsed, written: Vec::new() })
}

fn of_one(of: &str, args: &Args, plan: &Plan, problems: &mut Problems) -> Option<Proposals> {
    if let (None, Some(first)) = (&plan.job.variant, plan.family.variants.keys().next()) {
        let all: Vec<&str> = plan.family.variants.keys().map(String::as_str).collect();
        let at = typed("<FAMILY>", of);
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
    let said = proposal::gather(plan, &args.jobs);
    if said.jobs == 0 {
        let why = said.aside.first().map(|aside| format!("; {}: {}", aside.job, aside.why)).unwrap_or_default();
        let which = format!(" of `{of}` by `{}`", plan.procedure);
        problems.push(none_finished(&args.jobs, &which, &why));
        return None;
    }
    Some(said)
}

fn of_all(
    args: &Args,
    parsed: &Parsed,
    (files, shop): (Files, Option<Arc<Source>>),
    problems: &mut Problems,
) -> Option<Gathered> {
    let plan_of = |work: &Work| {
        let mut problems = Problems::new();
        let job = without_job(&work.of(), Some(&work.procedure), parsed, &mut problems);
        let plan = job.and_then(|job| build(Inputs::new(job, shop.clone(), files.clone()), &mut problems));
        let why = |problems: &Problems| problems.first().map_or_else(String::new, |one| one.message.clone());
        plan.ok_or_else(|| why(&problems))
    };
    let all = proposal::gather_all(&args.jobs, &plan_of);
    if all.said.is_empty() && all.silent.is_empty() {
        problems.push(none_finished(&args.jobs, "", ""));
        return None;
    }
    Some(all)
}

fn none_finished(jobs: &Path, which: &str, why: &str) -> Diagnostic {
    let message = format!("there is no finished job{which} below {}{why}", jobs.display());
    about(jobs, Code::WrongArguments, message).help("`standpipe jobs FOLDER --all` lists the jobs below a folder")
}

/// The files that were written: none where nothing differs.
fn written(into: &Path, said: &Said) -> Result<Vec<PathBuf>, Box<Diagnostic>> {
    let mut files = Vec::new();
    for (all, plan) in &said.all.said {
        let same = |other: &Proposals| (&other.family, &other.variant) == (&all.family, &all.variant);
        let alone = said.all.said.iter().filter(|(other, _)| same(other)).count() == 1;
        let mut id = format!("proposed-{}", all.family);
        let parts = all.variant.iter().chain((!alone).then_some(&all.procedure));
        parts.for_each(|part| id.push_str(&format!("-{part}")));
        let mut folder = Folder::new(&id, Some(into))?;
        let Some(text) = proposal::overlay(all, plan, &id, &folder.id) else { continue };
        let of = |kind: Kind, id: &str| said.parsed.library.document(kind, id).map(|document| document.plugin.as_str());
        let mut needs: Vec<&str> =
            [of(Kind::Procedure, &plan.procedure), of(Kind::Family, &plan.family.id)].into_iter().flatten().collect();
        needs.dedup();
        folder.write(&titled(&id), &needs, &[(Kind::Overlay, &id, text)])?;
        files.extend(folder.written().to_vec());
    }
    Ok(files)
}
