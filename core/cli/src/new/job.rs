//! `new job`: asks for what the form wants to know of a job, and writes a job file.

use std::io::{IsTerminal, Write};
use std::path::{Component, Path, PathBuf};

use indexmap::IndexMap;
use serde_json::json;

use super::asking::{ask, choose};
use super::{Fault, SCHEMA, needed};
use crate::Exit;
use crate::args::NewJob;
use crate::context::Context;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_form::Form;
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::Kind;
use standpipe_quantity::value::Value;
use standpipe_yaml as yaml;

pub fn run(args: &NewJob, context: &Context) -> Exit {
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

fn write(args: &NewJob, context: &Context, parsed: &Parsed) -> Result<(PathBuf, Vec<String>), Fault> {
    let asking = std::io::stdin().is_terminal() && !context.json();
    let path = args.into.clone().unwrap_or_else(|| PathBuf::from(format!("{}.yaml", args.id)));
    let here = typed("<ID>", &path.display().to_string());
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    if args.id.is_empty() || args.id.starts_with('.') || !args.id.chars().all(plain) {
        return Err(Box::new(
            Diagnostic::error(Code::WrongArguments, &here.place, format!("`{}` can't be the number of a job", args.id))
                .expected("letters, digits, hyphens, underscores and dots: folders are named after it"),
        ));
    }
    if path.exists() {
        return Err(Box::new(
            Diagnostic::error(Code::UnreadableFile, &here.place, format!("{} is there already", path.display()))
                .help("choose another number, or another file with --into"),
        ));
    }
    let family = match &args.family {
        Some(family) => family.clone(),
        None if asking => {
            let ids: Vec<&str> = parsed.library.documents(Kind::Family).map(|document| document.id.as_str()).collect();
            one_of(context, parsed, Kind::Family, &ids)?
        }
        None => return Err(needed("--family", parsed, Kind::Family)),
    };
    let (family_id, variant) = match family.split_once('/') {
        Some((id, variant)) => (id.to_owned(), Some(variant.to_owned())),
        None => (family, None),
    };
    let mut problems = Problems::new();
    let (form, family) = parsed
        .family(&typed("<FAMILY>", &family_id), &mut problems)
        .ok_or_else(|| problems.pop().map_or_else(|| needed("--family", parsed, Kind::Family), Box::new))?;
    if let Some(variant) = &variant
        && !family.variants.contains_key(variant)
    {
        let at = typed("<FAMILY>", variant);
        return Err(Box::new(
            Diagnostic::error(Code::UnknownReference, &at.place, format!("`{family_id}` has no variant `{variant}`"))
                .expected(family.variants.keys().cloned().collect::<Vec<_>>().join(", ")),
        ));
    }
    let procedure = match &args.procedure {
        Some(procedure) => procedure.clone(),
        None => match parsed.procedures_for(&family.form).as_slice() {
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
    let given = given(args, &form, parsed)?;
    let (facts, unknown) = facts(&form, given, asking, context, parsed);
    let mut text = String::from("# A job. `standpipe card` shows what it needs, `standpipe run` runs it.\n");
    text.push_str(&line("job", &args.id));
    if family.invented {
        text.push_str("invented: true\n");
    }
    text.push_str(&line("family", &family_id));
    match &variant {
        Some(variant) => text.push_str(&line("variant", variant)),
        None if !family.variants.is_empty() => text.push_str("# the variant is recognised by what is seen\n"),
        None => {}
    }
    text.push_str(&line("procedure", &procedure));
    if let Some(shop) = &context.common.shop {
        text.push_str(&line("shop", &from_beside(&path, shop).display().to_string()));
    }
    text.push_str(&facts_text(&facts));
    standpipe_disk::replace(&path).and_then(|mut file| file.write_all(text.as_bytes())).map_err(|fault| {
        Box::new(
            Diagnostic::error(
                Code::UnreadableFile,
                &here.place,
                format!("{} can't be written: {fault}", path.display()),
            )
            .help("choose another place with --into"),
        )
    })?;
    Ok((path, unknown))
}

/// A path as it is called from where another file lies, so that both can be moved together.
fn from_beside(file: &Path, to: &Path) -> PathBuf {
    let (Ok(file), Ok(to)) = (std::path::absolute(file), std::path::absolute(to)) else { return to.to_owned() };
    let folder = file.parent().unwrap_or(&file);
    let shared = folder.components().zip(to.components()).take_while(|(one, other)| one == other).count();
    // With nothing in common but the root, whoever wrote it meant that very place.
    if shared < 2 {
        return to;
    }
    let up = folder.components().skip(shared).map(|_| Component::ParentDir);
    up.chain(to.components().skip(shared)).collect()
}

fn given(args: &NewJob, form: &Form, parsed: &Parsed) -> Result<IndexMap<String, String>, Fault> {
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

/// Every fact of the form: given, asked for, or unknown.
fn facts(
    form: &Form,
    mut given: IndexMap<String, String>,
    asking: bool,
    context: &Context,
    parsed: &Parsed,
) -> (IndexMap<String, String>, Vec<String>) {
    let mut facts = IndexMap::new();
    let mut unknown = Vec::new();
    for (path, field) in &form.job {
        let value = match given.shift_remove(path) {
            Some(value) => Some(value),
            None if asking => ask(context, field, &parsed.units),
            None => None,
        };
        match value {
            Some(value) => {
                facts.insert(path.clone(), value);
            }
            None => {
                if field.required {
                    unknown.push(path.clone());
                }
                facts.insert(path.clone(), "unknown".to_owned());
            }
        }
    }
    (facts, unknown)
}

fn one_of(context: &Context, parsed: &Parsed, kind: Kind, ids: &[&str]) -> Result<String, Fault> {
    choose(context, kind, parsed, ids).ok_or_else(|| needed(&format!("--{kind}"), parsed, kind))
}

fn line(key: &str, value: &str) -> String {
    let pair = IndexMap::from([(key, value)]);
    // A map of two texts can always be written.
    yaml::write(&pair).unwrap_or_default()
}

/// Dotted paths as nested maps.
fn facts_text(facts: &IndexMap<String, String>) -> String {
    let mut tree = Value::Record(IndexMap::new());
    for (path, value) in facts {
        put(&mut tree, path, value);
    }
    yaml::write(&Plain(&tree)).unwrap_or_default()
}

fn put(tree: &mut Value, path: &str, value: &str) {
    let Value::Record(fields) = tree else { return };
    match path.split_once('.') {
        None => {
            fields.insert(path.to_owned(), Value::Text(value.to_owned()));
        }
        Some((first, rest)) => {
            put(fields.entry(first.to_owned()).or_insert_with(|| Value::Record(IndexMap::new())), rest, value);
        }
    }
}

/// Records and texts as plain YAML, without the names that a value carries in a journal.
struct Plain<'a>(&'a Value);

impl serde::Serialize for Plain<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            Value::Record(fields) => serializer.collect_map(fields.iter().map(|(name, value)| (name, Plain(value)))),
            Value::Text(text) => serializer.serialize_str(text),
            _ => serializer.serialize_none(),
        }
    }
}
