//! `card`: what a job needs and will do, before it starts.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::json;

use super::Exit;
use super::args::Card;
use super::context::{Context, shop_of};
use super::job_folder::about;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_form::Form;
use standpipe_job::plan::{Inputs, Parsed, Plan, build, typed};
use standpipe_library::{Files, Kind};
use standpipe_report::history::Earlier;
use standpipe_report::{CardData, card, page};

const SCHEMA: &str = "standpipe.card/1";

pub fn run(args: &Card, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let plan = inputs(args, context, &mut problems)
        .and_then(|(inputs, has_job)| Some((build(inputs, &mut problems)?, has_job)));
    let Some((plan, has_job)) = plan else {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    context.report(&problems);
    let journals = match journals(args, context, &plan, has_job) {
        Ok(folder) => folder,
        Err(problem) => {
            context.failed(SCHEMA, &[*problem]);
            return Exit::Usage;
        }
    };
    let mut view = card::view(&plan, &Earlier::look(&plan, journals.as_deref()));
    if !has_job {
        view.job = None;
    }
    if context.json() {
        let ok = true;
        let data = CardData { schema: SCHEMA, ok, card: Some(view), problems: problems_json(&problems) };
        context.out_json(&json!(data));
    } else if context.html() {
        match page::card(&view) {
            Ok(page) => context.out(&page),
            Err(fault) => {
                context.note(&fault.to_string());
                return Exit::Defect;
            }
        }
    } else {
        context.out(&card::text(&view, context.width(), context.color_out()));
    }
    Exit::Well
}

/// The folder in which finished jobs are looked for.
fn journals(args: &Card, context: &Context, plan: &Plan, has_job: bool) -> Result<Option<PathBuf>, Box<Diagnostic>> {
    if let Some(folder) = &args.journals {
        if folder.is_dir() {
            return Ok(Some(folder.clone()));
        }
        let problem = about(folder, Code::UnreadableFile, format!("there is no folder {}", folder.display()));
        return Err(Box::new(problem.help("name the folder that the journals of finished jobs lie in")));
    }
    let job = Path::new(&args.of);
    let beside = |path: &Path| match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    };
    let source = plan.snapshot.job.source();
    let shop = context.common.shop.clone().or_else(|| shop_of(has_job.then_some((job, &*source))));
    Ok(match (&plan.shop.journals, shop) {
        (Some(folder), Some(shop)) => Some(beside(&shop).join(&folder.value)),
        _ => has_job.then(|| beside(job)),
    })
}

/// What the plan is made of, and whether there is a job for it.
fn inputs(args: &Card, context: &Context, problems: &mut Problems) -> Option<(Inputs, bool)> {
    let path = Path::new(&args.of);
    if path.is_file() || args.of.ends_with(".yaml") || args.of.ends_with(".yml") {
        return context.inputs(path, problems).map(|inputs| (inputs, true));
    }
    let (files, shop) = context.files(None, problems);
    let job = without_job(args, &files, problems)?;
    Some((Inputs::new(job, shop, files), false))
}

/// A job file for a family that has no job yet: every fact of the job is unknown.
fn without_job(args: &Card, files: &Files, problems: &mut Problems) -> Option<Arc<Source>> {
    let mut quiet = Problems::new();
    let parsed = Parsed::new(files.clone(), &mut quiet);
    let (family, variant) = match args.of.split_once('/') {
        Some((family, variant)) => (family, Some(variant)),
        None => (args.of.as_str(), None),
    };
    let id = typed("<FAMILY>", family);
    let (form, known) = parsed.family(&id, problems)?;
    let procedure = match &args.procedure {
        Some(procedure) => procedure.clone(),
        None => match parsed.procedures_for(&known.form).as_slice() {
            [only] => only.clone(),
            several => {
                let at = typed("<FAMILY>", &args.of);
                problems.push(
                    Diagnostic::error(Code::WrongArguments, &at.place, "which procedure?")
                        .expected(if several.is_empty() {
                            let all: Vec<&str> = parsed
                                .library
                                .documents(Kind::Procedure)
                                .map(|document| document.id.as_str())
                                .collect();
                            all.join(", ")
                        } else {
                            several.join(", ")
                        })
                        .help("add `--procedure ID`"),
                );
                return None;
            }
        },
    };
    let mut text = format!("job: card\nfamily: {family}\nprocedure: {procedure}\n");
    if let Some(variant) = variant {
        text.push_str(&format!("variant: {variant}\n"));
    }
    text.push_str(&unknown_facts(&form));
    Some(Source::new("<card>", text))
}

fn unknown_facts(form: &Form) -> String {
    let mut text = String::new();
    let mut group = "";
    for path in form.job.keys() {
        match path.split_once('.') {
            Some((first, rest)) => {
                if first != group {
                    text.push_str(&format!("{first}:\n"));
                    group = first;
                }
                text.push_str(&format!("  {rest}: unknown\n"));
            }
            None => text.push_str(&format!("{path}: unknown\n")),
        }
    }
    text
}
