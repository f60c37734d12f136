//! `new`: a commented starting point for every kind of file, or the questions that lead to one.

mod asking;
mod case;
mod family;
pub(super) mod folder;
pub mod job;
mod model;
mod tree;

use std::io::IsTerminal;

use indexmap::{IndexMap, IndexSet};
use serde_json::json;

use self::folder::{Folder, fill, titled};
use super::Exit;
use super::args::{New, NewFile};
use super::context::Context;
use super::formats;
use standpipe_diagnostic::columns::hang;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_drivers::JobKind;
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{Document, Kind};
use standpipe_procedure::raw::RawProcedure;
use standpipe_yaml as yaml;

const SCHEMA: &str = "standpipe.new/1";

type Fault = Box<Diagnostic>;

/// What was made, and what comes next.
struct Made {
    folder: Folder,
    unknown: Vec<String>,
    next: Vec<String>,
}

pub fn run(what: &New, context: &Context) -> Exit {
    let (kind, args) = match what {
        New::Job(job) => return job::run(job, context),
        New::Case(args) => return case::run(args, context),
        New::Family(args) => (Kind::Family, args),
        New::Procedure(args) => (Kind::Procedure, args),
        New::Sheet(args) => (Kind::Sheet, args),
        New::Form(args) => (Kind::Form, args),
        New::Overlay(args) => (Kind::Overlay, args),
        New::Model(args) => (Kind::Model, args),
        New::Units(args) => (Kind::Units, args),
        New::Table(args) => (Kind::Table, args),
    };
    let mut problems = Problems::new();
    let parsed = context.parsed(&mut problems);
    match make(kind, args, context, &parsed) {
        Ok(made) => {
            context.report(&problems);
            show(&made, context);
            Exit::Well
        }
        Err(problem) => {
            problems.push(*problem);
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

fn show(made: &Made, context: &Context) {
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": true, "files": made.folder.written(), "unknown": made.unknown, "next": made.next,
        }));
        return;
    }
    for file in made.folder.written() {
        context.out(&format!("wrote {}\n", file.display()));
    }
    if !made.unknown.is_empty() {
        context.out(&still_unknown(&made.unknown, context.width()));
    }
    for next in &made.next {
        context.out(&format!("next: {next}\n"));
    }
}

/// How many values of what; each by itself has its question in the file.
fn still_unknown(unknown: &[String], width: usize) -> String {
    let mut groups: IndexMap<&str, usize> = IndexMap::new();
    for path in unknown {
        *groups.entry(path.split('.').next().unwrap_or(path)).or_default() += 1;
    }
    let groups: Vec<String> = groups.into_iter().map(|(group, number)| format!("{group} {number}")).collect();
    let lines = hang("still unknown, to be looked up: ", &groups.join(", "), width);
    lines.iter().map(|line| format!("{line}\n")).collect()
}

fn make(kind: Kind, args: &NewFile, context: &Context, parsed: &Parsed) -> Result<Made, Fault> {
    let mut folder = Folder::new(&args.id, args.into.as_deref())?;
    if args.form.is_some() && !matches!(kind, Kind::Family | Kind::Procedure) {
        return Err(needless("--form", kind));
    }
    if args.procedure.is_some() && !matches!(kind, Kind::Overlay | Kind::Model) {
        return Err(needless("--procedure", kind));
    }
    if args.family.is_some() && kind != Kind::Model {
        return Err(needless("--family", kind));
    }
    if kind.is_exclusive() && parsed.library.document(kind, &args.id).is_some() {
        let at = typed("<ID>", &args.id);
        return Err(Box::new(
            Diagnostic::error(Code::DefinedTwice, &at.place, format!("there is a {kind} `{}` already", args.id))
                .help("choose another id"),
        ));
    }
    let (id, title, name) = (args.id.as_str(), titled(&args.id), args.id.replace('-', "_"));
    let own: &[(&str, &str)] = &[("id", id), ("title", &title), ("name", &name), ("folder", &folder.id.clone())];
    let shop;
    let (mut unknown, mut needs) = (Vec::new(), vec!["units".to_owned()]);
    let files = match kind {
        Kind::Family => {
            let document = pick(Kind::Form, "--form", args.form.as_deref(), context, parsed)?;
            let mut problems = Problems::new();
            let form = parsed
                .form(&typed("--form", &document.id), &mut problems)
                .ok_or_else(|| problems.pop().map_or_else(|| needed("--form", parsed, Kind::Form), Box::new))?;
            needs = vec![document.plugin.clone()];
            let asking = asks(context).then_some(context);
            let made = family::family(id, &title, &form, &parsed.units, &spoken_of(parsed, &document.id), asking);
            unknown = made.unknown;
            vec![(kind, id, made.text)]
        }
        Kind::Procedure => {
            let document = pick(Kind::Form, "--form", args.form.as_deref(), context, parsed)?;
            needs = vec![document.plugin.clone()];
            let with =
                [own, &[("form", &document.id), ("source", "say here where this order of work is from")]].concat();
            vec![(kind, id, fill(include_str!("templates/procedure.yaml"), &with))]
        }
        Kind::Overlay => {
            let document = pick(Kind::Procedure, "--procedure", args.procedure.as_deref(), context, parsed)?;
            needs = vec![document.plugin.clone()];
            let step = first_step(&document).ok_or_else(|| needed("--procedure", parsed, Kind::Procedure))?;
            let with = [own, &[("procedure", &document.id), ("step", &step)]].concat();
            vec![(kind, id, fill(include_str!("templates/overlay.yaml"), &with))]
        }
        Kind::Model => {
            let document = pick(Kind::Procedure, "--procedure", args.procedure.as_deref(), context, parsed)?;
            let family = args.family.as_deref().ok_or_else(|| needed("--family", parsed, Kind::Family))?;
            let of = JobKind::of(parsed, family)?;
            fits(&document, &of, parsed)?;
            let made = model::model(own, &name, &document, &of, parsed)
                .ok_or_else(|| needed("--procedure", parsed, Kind::Procedure))?;
            needs.extend(made.needs);
            unknown = made.unknown;
            shop = format!("{id}-shop");
            vec![(kind, id, made.model), (Kind::Script, &*name, made.script), (Kind::Case, &*shop, made.shop)]
        }
        Kind::Sheet => vec![
            (Kind::Sheet, id, fill(include_str!("templates/sheet.yaml"), own)),
            (Kind::Script, &*name, fill(include_str!("templates/sheet.rhai"), own)),
            (Kind::Case, id, fill(include_str!("templates/case.yaml"), own)),
        ],
        Kind::Form => vec![(kind, id, fill(include_str!("templates/form.yaml"), own))],
        Kind::Units => {
            needs.clear();
            vec![(kind, id, fill(include_str!("templates/units.yaml"), own))]
        }
        // Cases and scripts are made with their sheet.
        Kind::Table | Kind::Script | Kind::Case | Kind::Log | Kind::People => {
            vec![(kind, id, fill(include_str!("templates/table.csv"), own))]
        }
    };
    let needs: Vec<&str> = needs.iter().map(String::as_str).collect();
    folder.write(&title, &needs, &files)?;
    let next = next(kind, args, &folder, &needs);
    Ok(Made { folder, unknown, next })
}

/// Questions are for people.
fn asks(context: &Context) -> bool {
    std::io::stdin().is_terminal() && !context.json()
}

/// What to do now; commands that this program has not are not named.
fn next(kind: Kind, args: &NewFile, folder: &Folder, needs: &[&str]) -> Vec<String> {
    let place = folder.path.display().to_string();
    let mut next = Vec::new();
    let lacks = folder.lacks(needs);
    if !lacks.is_empty() {
        next.push(format!("name {} under `plugins:` in {place}/plugin.yaml", lacks.join(", ")));
    }
    if let Some(file) = folder.written().iter().find(|file| file.parent().is_some_and(|it| it.ends_with(kind.folder())))
    {
        next.push(format!("open {} and put in what is yours", file.display()));
    }
    let command = formats::command();
    let mut add = |words: &str, line: String| {
        if command.find_subcommand(words).is_some() {
            next.push(line);
        }
    };
    add("check", format!("standpipe check {place}"));
    match kind {
        Kind::Family => {
            add("card", format!("standpipe card {} --plugins {place}", args.id));
            add("new", format!("standpipe new job ID --family {} --plugins {place}", args.id));
        }
        Kind::Procedure => {
            add("card", format!("standpipe card FAMILY --procedure {} --plugins {place}", args.id));
        }
        Kind::Sheet => {
            add("calc", format!("standpipe calc {} \"part=250 g\" \"whole=1 kg\" --plugins {place}", args.id));
            add("test", format!("standpipe test {place}"));
        }
        Kind::Model => {
            let (procedure, family) = (args.procedure.as_deref(), args.family.as_deref());
            let of = format!("{} --family {}", procedure.unwrap_or("PROCEDURE"), family.unwrap_or("FAMILY"));
            add("simulate", format!("standpipe simulate {of} --model {} --plugins {place}", args.id));
        }
        Kind::Form => add("new", format!("standpipe new family ID --form {} --plugins {place}", args.id)),
        Kind::Overlay => next.push(format!("list it in a shop file: plugins: [{place}], overlays: [{}]", args.id)),
        Kind::Units => add("show", format!("standpipe show quantity {} --plugins {place}", args.id)),
        _ => add("show", format!("standpipe show {kind} {} --plugins {place}", args.id)),
    }
    next
}

/// The document that an argument names; without one the only one there is, or the one that is chosen.
fn pick(
    kind: Kind,
    argument: &str,
    named: Option<&str>,
    context: &Context,
    parsed: &Parsed,
) -> Result<Document, Fault> {
    let id = match named {
        Some(id) => id.to_owned(),
        None => {
            let mut ids: Vec<&str> = parsed.library.documents(kind).map(|document| document.id.as_str()).collect();
            let whole = if kind == Kind::Procedure { whole_procedures(parsed) } else { Vec::new() };
            ids.retain(|id| kind != Kind::Procedure || whole.iter().any(|whole| whole == id));
            match ids.as_slice() {
                [only] => (*only).to_owned(),
                _ if asks(context) => {
                    asking::choose(context, kind, parsed, &ids).ok_or_else(|| needed(argument, parsed, kind))?
                }
                _ => return Err(needed(argument, parsed, kind)),
            }
        }
    };
    let mut problems = Problems::new();
    match parsed.library.find(kind, &typed(argument, &id), &mut problems) {
        Some(document) => Ok(Document::clone(document)),
        None => Err(problems.pop().map_or_else(|| needed(argument, parsed, kind), Box::new)),
    }
}

/// Fields of the family that the procedures of a form speak of, in the order of the work.
fn spoken_of(parsed: &Parsed, form: &str) -> Vec<String> {
    let mut quiet = Problems::new();
    let mut paths = IndexSet::new();
    for document in parsed.library.documents(Kind::Procedure) {
        let Some(procedure) = parsed.procedure(document, &mut quiet) else { continue };
        if procedure.form.as_ref().is_some_and(|of| of.as_str() == form) {
            let inner = procedure.all_steps().into_iter().flat_map(|step| &step.needs);
            paths.extend(procedure.needs.iter().chain(inner).map(|path| path.value.clone()));
        }
    }
    paths.into_iter().collect()
}

/// Procedures that are no part of another.
fn whole_procedures(parsed: &Parsed) -> Vec<String> {
    parsed.library.documents(Kind::Form).flat_map(|form| parsed.procedures_for(&form.id)).collect()
}

/// An overlay can be laid beside any step that the procedure reaches; the first of its own is sure to be there.
fn first_step(document: &Document) -> Option<String> {
    let raw: RawProcedure = yaml::read(&document.source, &mut Problems::new())?;
    raw.steps.first().map(|step| step.value.id.value.clone())
}

fn needed(argument: &str, parsed: &Parsed, kind: Kind) -> Fault {
    let known: Vec<&str> = parsed.library.documents(kind).map(|document| document.id.as_str()).collect();
    let at = typed(argument, argument);
    Box::new(
        Diagnostic::error(Code::WrongArguments, &at.place, format!("which {kind}?"))
            .expected(format!("one of: {}", known.join(", ")))
            .help(format!("add `{argument} ID`, or run it in a terminal to be asked")),
    )
}

/// Whether the family is of the form that the procedure is for.
fn fits(document: &Document, of: &JobKind, parsed: &Parsed) -> Result<(), Fault> {
    let form = parsed.procedure(document, &mut Problems::new()).and_then(|procedure| procedure.form);
    match form.filter(|form| form.value != of.form.id) {
        None => Ok(()),
        Some(form) => {
            let at = typed("--family", &of.family.id);
            let message = format!("`{}` is of the form `{}`, `{}` is not", of.family.id, of.form.id, document.id);
            Err(Box::new(
                Diagnostic::error(Code::UnmetNeed, &at.place, message)
                    .expected(format!("a family of the form `{}`", form.value)),
            ))
        }
    }
}

fn needless(argument: &str, kind: Kind) -> Fault {
    let at = typed(argument, argument);
    Box::new(
        Diagnostic::error(Code::WrongArguments, &at.place, format!("`{argument}` does not go with `new {kind}`"))
            .help("leave it out"),
    )
}
