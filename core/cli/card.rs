//! `card`: what a job needs and will do, before it starts.

use std::path::Path;
use std::sync::Arc;

use serde_json::json;

use super::Exit;
use super::args::Card;
use super::context::Context;
use crate::diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use crate::form::Form;
use crate::library::{Files, Kind};
use crate::plan::{Inputs, Parsed, build, typed};
use crate::render::{CardData, card, page};
use crate::source::Source;

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
    let mut view = card::view(&plan);
    if !has_job {
        view.job = None;
    }
    if context.json() {
        let ok = true;
        let data = CardData { schema: SCHEMA, ok, card: Some(view), problems: problems_json(&problems) };
        context.out_json(&json!(data));
    } else if context.html() {
        context.out(&page::card(&view));
    } else {
        context.out(&card::text(&view, context.width(), context.color_out()));
    }
    Exit::Well
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
                    Diagnostic::error(Code::A001, &at.place, "which procedure?")
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
