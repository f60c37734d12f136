//! `new job`: asks for what the form wants to know of a job, and writes a job file.

use std::io::IsTerminal;
use std::path::PathBuf;

use indexmap::IndexMap;
use serde_json::json;

use super::asking::{ask, choose};
use super::{Fault, SCHEMA, needed};
use crate::Exit;
use crate::args;
use crate::context::Context;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_drivers::{JobKind, NewJob};
use standpipe_form::Form;
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::Kind;

pub fn run(args: &args::NewJob, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let parsed = context.parsed(&mut problems);
    match write(args, context, &parsed) {
        Ok((path, unknown)) => {
            context.report(&problems);
            if context.json() {
                context.out_json(&json!({ "schema": SCHEMA, "ok": true, "file": path, "unknown": unknown }));
            } else {
                context.out(&format!("wrote {}\n", path.display()));
                for fact in &unknown {
                    context.out(&format!("  still unknown: {fact}\n"));
                }
                // What had to be named to make it has to be named to read it.
                let plugins = context.common.plugins.iter().map(|folder| format!(" --plugins {}", folder.display()));
                let plugins: String = plugins.collect();
                context.out(&format!("next: standpipe card {}{plugins}\n", path.display()));
                context.out(&format!("next: standpipe run {}{plugins}\n", path.display()));
            }
            Exit::Well
        }
        Err(problem) => {
            problems.push(*problem);
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

fn write(args: &args::NewJob, context: &Context, parsed: &Parsed) -> Result<(PathBuf, Vec<String>), Fault> {
    let asking = std::io::stdin().is_terminal() && !context.json();
    NewJob::number(&args.id)?;
    let path = args.into.clone().unwrap_or_else(|| PathBuf::from(format!("{}.yaml", args.id)));
    NewJob::free(&path)?;
    let family = match &args.family {
        Some(family) => family.clone(),
        None if asking => {
            let ids: Vec<&str> = parsed.library.documents(Kind::Family).map(|document| document.id.as_str()).collect();
            one_of(context, parsed, Kind::Family, &ids)?
        }
        None => return Err(needed("--family", parsed, Kind::Family)),
    };
    let kind = JobKind::of(parsed, &family)?;
    let procedure = match &args.procedure {
        Some(procedure) => procedure.clone(),
        None => match parsed.procedures_for(&kind.family.form).as_slice() {
            [only] => only.clone(),
            several if asking => {
                let ids: Vec<&str> = several.iter().map(String::as_str).collect();
                one_of(context, parsed, Kind::Procedure, &ids)?
            }
            _ => return Err(needed("--procedure", parsed, Kind::Procedure)),
        },
    };
    if parsed.library.document(Kind::Procedure, &procedure).is_none() {
        return Err(needed("--procedure", parsed, Kind::Procedure));
    }
    let mut known = given(args, &kind.form, parsed)?;
    for (path, field) in kind.form.job.iter().filter(|_| asking) {
        if !known.contains_key(path)
            && let Some(value) = ask(context, field, &parsed.units)
        {
            known.insert(path.clone(), value);
        }
    }
    let shop = context.common.shop.as_deref();
    let job = NewJob { id: &args.id, kind: &kind, procedure: &procedure, shop, known };
    job.write(&path)?;
    let unknown = job.unknown();
    Ok((path, unknown))
}

fn given(args: &args::NewJob, form: &Form, parsed: &Parsed) -> Result<IndexMap<String, String>, Fault> {
    let mut given = IndexMap::new();
    for text in &args.set {
        let at = typed("--set", text);
        let Some((path, value)) = text.split_once('=') else {
            return Err(Box::new(
                Diagnostic::error(Code::WrongArguments, &at.place, format!("`{text}` says no value"))
                    .expected("FACT=VALUE"),
            ));
        };
        let path = path.trim().replace('-', "_");
        let Some(field) = form.job_field(&path) else {
            let near = nearest(&path, form.job.keys().map(String::as_str));
            let problem = Diagnostic::error(Code::UnknownField, &at.place, format!("a job has no fact `{path}`"))
                .expected(form.job.keys().cloned().collect::<Vec<_>>().join(", "));
            return Err(Box::new(match near {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem,
            }));
        };
        let value = value.trim();
        if value != "unknown"
            && let Err(fault) = field.read(value, &parsed.units)
        {
            return Err(Box::new(fault.at(&typed("--set", value).place).expected(field.expected())));
        }
        given.insert(path, value.to_owned());
    }
    Ok(given)
}

fn one_of(context: &Context, parsed: &Parsed, kind: Kind, ids: &[&str]) -> Result<String, Fault> {
    choose(context, kind, parsed, ids).ok_or_else(|| needed(&format!("--{kind}"), parsed, kind))
}
