//! `schema`: JSON Schema of a kind of file, made from the types that read it.

use serde_json::{Value as Json, json};

use super::Exit;
use super::args::{Schema, SchemaKind};
use super::context::Context;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::Form;
use standpipe_job::plan::{JOB_KEYS, typed};

const SCHEMA: &str = "standpipe.schema/1";

pub fn run(args: &Schema, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let form = match form_of(args, context, &mut problems) {
        Ok(form) => form,
        Err(problem) => {
            problems.push(*problem);
            context.failed(SCHEMA, &problems);
            return Exit::Usage;
        }
    };
    context.report(&problems);
    context.out_json(&titled(args.kind, form.as_ref()));
    Exit::Well
}

/// As [`of`], with what it is a schema of.
pub fn titled(kind: SchemaKind, form: Option<&Form>) -> Json {
    let mut schema = of(kind, form);
    if let Some(schema) = schema.as_object_mut() {
        schema.insert("title".to_owned(), json!(title(kind)));
    }
    schema
}

/// What a schema is one of.
pub fn title(kind: SchemaKind) -> String {
    match kind {
        SchemaKind::Audit => "What `standpipe audit --format json` writes".to_owned(),
        SchemaKind::Card => "What `standpipe card --format json` writes".to_owned(),
        SchemaKind::Record => "What `standpipe report --format json` writes".to_owned(),
        SchemaKind::Archive => "The tables that `standpipe archive` writes".to_owned(),
        SchemaKind::Simulation => "What `standpipe simulate --format json` writes".to_owned(),
        kind => format!("A file of standpipe: {}", format!("{kind:?}").to_lowercase()),
    }
}

fn form_of(args: &Schema, context: &Context, problems: &mut Problems) -> Result<Option<Form>, Box<Diagnostic>> {
    let Some(id) = &args.form else { return Ok(None) };
    let id = typed("--form", id);
    if !matches!(args.kind, SchemaKind::Family | SchemaKind::Job) {
        return Err(Box::new(
            Diagnostic::error(Code::WrongArguments, &id.place, "`--form` goes with `family` and `job`")
                .help("leave it out: the other kinds look the same for every form"),
        ));
    }
    let form = context.parsed(problems).form(&id, problems);
    match (form, problems.pop()) {
        (Some(form), last) => {
            problems.extend(last);
            Ok(Some(form))
        }
        (None, Some(problem)) => Err(Box::new(problem)),
        (None, None) => {
            Err(Box::new(Diagnostic::error(Code::UnknownReference, &id.place, format!("no form `{}`", id.value))))
        }
    }
}

/// What editors are told of a kind of file, or readers of a result.
pub fn of(kind: SchemaKind, form: Option<&Form>) -> Json {
    let mut schema = made(kind, form);
    let is_result = matches!(
        kind,
        SchemaKind::Card | SchemaKind::Record | SchemaKind::Audit | SchemaKind::Simulation | SchemaKind::Archive
    );
    if !is_result {
        something(&mut schema);
    }
    schema
}

/// A key that is there has a value: `title:` alone is refused, though the type behind it may be left out.
fn something(schema: &mut Json) {
    if let Some(types) = schema.get_mut("type").and_then(Json::as_array_mut) {
        types.retain(|of| of != "null");
    }
    if let Some(several) = schema.get_mut("anyOf").and_then(Json::as_array_mut) {
        several.retain(|of| of.get("type").is_none_or(|of| of != "null"));
    }
    match schema {
        Json::Object(keys) => keys.values_mut().for_each(something),
        Json::Array(items) => items.iter_mut().for_each(something),
        _ => {}
    }
}

fn made(kind: SchemaKind, form: Option<&Form>) -> Json {
    let made = match kind {
        SchemaKind::Family => return standpipe_form::family_schema(form),
        SchemaKind::Archive => return standpipe_archive::schema(),
        SchemaKind::Job => return standpipe_form::job_schema(form, JOB_KEYS),
        SchemaKind::Plugin => standpipe_library::plugin_schema(),
        SchemaKind::Units => standpipe_quantity::schema(),
        SchemaKind::Form => standpipe_form::form_schema(),
        SchemaKind::Procedure => standpipe_procedure::schema(),
        SchemaKind::Sheet => standpipe_sheet::schema(),
        SchemaKind::Overlay => standpipe_overlay::schema(),
        SchemaKind::Shop => standpipe_library::shop_schema(),
        SchemaKind::Answers => standpipe_drivers::answers::schema(),
        SchemaKind::Case => standpipe_check::case::schema(),
        SchemaKind::Card => standpipe_report::schema_of::<standpipe_report::CardData>(),
        SchemaKind::Record => standpipe_report::schema_of::<standpipe_report::RecordData>(),
        SchemaKind::Log => standpipe_log::schema(),
        SchemaKind::Audit => standpipe_audit::schema(),
        SchemaKind::Model => standpipe_simulate::model::schema(),
        SchemaKind::People => standpipe_simulate::people::schema(),
        SchemaKind::Simulation => standpipe_simulate::report::schema(),
    };
    made.to_value()
}
