//! `card`: what a job needs and will do, before it starts.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::Exit;
use super::args::Card;
use super::context::{Context, shop_of};
use super::job_folder::about;
use super::no_job::without_job;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::plan::{Inputs, Parsed, Plan, build};
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
        return Err(Box::new(problem.help("name the folder with the journals of finished jobs")));
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
    let parsed = Parsed::new(files.clone(), &mut Problems::new());
    let job = without_job(&args.of, args.procedure.as_deref(), &parsed, problems)?;
    Some((Inputs::new(job, shop, files), false))
}
