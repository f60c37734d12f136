//! What editors are told of forms, families and job files.
//!
//! A family is what its form says: with the form at hand every field is told with its question, without one only the
//! keys that every family has.

use schemars::Schema;
use serde_json::{Map, Value as Json, json};

use super::field::Field;
use super::raw::RawForm;
use super::{Form, raw_family};
use standpipe_quantity::Kind;
use standpipe_yaml::Sources;

/// A form's own file.
pub fn form_schema() -> Schema {
    schemars::schema_for!(RawForm)
}

/// A family of any form, or of this one.
pub fn family_schema(form: Option<&Form>) -> Json {
    let mut own = Map::new();
    for key in raw_family::KEYS {
        own.insert(key.to_owned(), text());
    }
    own.insert("invented".to_owned(), json!({ "type": "boolean" }));
    own.insert("override".to_owned(), json!({ "type": "boolean" }));
    let sources = schemars::schema_for!(Sources);
    own.insert("sources".to_owned(), sources.to_value());
    let mut variant = Map::from_iter([("title".to_owned(), text())]);
    let signs = form.map(|form| tree(form, form.signs.values()));
    variant.insert("recognised_by".to_owned(), signs.unwrap_or_else(|| json!({ "type": "object" })));
    let fields = form.map(|form| tree(form, form.fields.values()));
    if let Some(fields) = fields.as_ref().and_then(|fields| fields["properties"].as_object()) {
        own.extend(fields.clone());
        variant.extend(fields.clone());
    }
    let closed = form.is_none();
    let variant = json!({ "type": "object", "properties": variant, "additionalProperties": closed });
    own.insert("variants".to_owned(), json!({ "type": "object", "additionalProperties": variant }));
    document(own, &["family", "form"], closed)
}

/// A job file for units of any form, or of this one.
pub fn job_schema(form: Option<&Form>, keys: &[&str]) -> Json {
    let mut own: Map<String, Json> = keys.iter().map(|key| ((*key).to_owned(), text())).collect();
    own.insert("invented".to_owned(), json!({ "type": "boolean" }));
    let facts = form.map(|form| tree(form, form.job.values()));
    if let Some(facts) = facts.as_ref().and_then(|facts| facts["properties"].as_object()) {
        own.extend(facts.clone());
    }
    document(own, &["job", "family", "procedure"], form.is_none())
}

fn document(properties: Map<String, Json>, required: &[&str], more: bool) -> Json {
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": more,
    })
}

fn text() -> Json {
    json!({ "type": ["string", "number", "boolean"] })
}

/// Dotted paths as nested keys.
fn tree<'a>(form: &Form, fields: impl Iterator<Item = &'a Field>) -> Json {
    let mut root = json!({ "type": "object", "properties": {}, "additionalProperties": false });
    for field in fields {
        let mut node = &mut root;
        let parts: Vec<&str> = field.path.split('.').collect();
        let Some((last, outer)) = parts.split_last() else { continue };
        for part in outer {
            let inner = &mut node["properties"][*part];
            if inner.is_null() {
                *inner = json!({ "type": "object", "properties": {}, "additionalProperties": false });
            }
            node = inner;
        }
        match *last {
            "*" => node["additionalProperties"] = of_field(form, field),
            last => node["properties"][last] = of_field(form, field),
        }
    }
    root
}

fn of_field(form: &Form, field: &Field) -> Json {
    let mut schema = of_kind(form, &field.kind);
    schema["description"] = json!(field.question());
    schema
}

/// `unknown` is a value of every field.
fn of_kind(form: &Form, kind: &Kind) -> Json {
    match kind {
        Kind::Truth => json!({ "enum": [true, false, "unknown"] }),
        Kind::OneOf(options) => {
            let options: Vec<&str> = options.iter().map(String::as_str).chain(["unknown"]).collect();
            json!({ "enum": options })
        }
        Kind::Count => json!({ "anyOf": [{ "type": "integer", "minimum": 0 }, { "const": "unknown" }] }),
        Kind::List(kind) => {
            json!({ "anyOf": [{ "type": "array", "items": of_kind(form, kind) }, { "const": "unknown" }] })
        }
        Kind::Record(name) => {
            let record = form.records.get(name).map(|fields| tree(form, fields.values()));
            json!({ "anyOf": [record, { "const": "unknown" }] })
        }
        Kind::Text | Kind::Date | Kind::Person | Kind::Table | Kind::Number | Kind::Quantity(_) | Kind::Range(_) => {
            text()
        }
    }
}
