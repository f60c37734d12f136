//! What editors are told of forms, families and job files.
//!
//! A family is what its form says: with the form at hand every field is told with its question, without one only the
//! keys that every family has.

use schemars::{JsonSchema, Schema};
use serde_json::{Map, Value as Json, json};

use super::field::Field;
use super::raw::RawForm;
use super::{Form, raw_family};
use standpipe_quantity::{Kind, Units};
use standpipe_yaml::Sources;
use standpipe_yaml::told::{Amount, Day, Id, SpanWithUnit};

/// A form's own file.
pub fn form_schema() -> Schema {
    schemars::schema_for!(RawForm)
}

/// A family of any form, or of this one.
pub fn family_schema(form: Option<&Form>) -> Json {
    let mut own: Map<String, Json> = raw_family::KEYS
        .iter()
        .zip(raw_family::TOLD)
        .map(|(key, said)| ((*key).to_owned(), told(text(), said)))
        .collect();
    for (key, of) in [("family", id()), ("form", id()), ("invented", truth()), ("override", truth())] {
        set(&mut own, key, of);
    }
    set(&mut own, "sources", schemars::schema_for!(Sources).to_value());
    let [title, sign] = raw_family::VARIANTS_TOLD;
    let signs = form.map(|form| tree(form, form.signs.values()));
    let signs = signs.unwrap_or_else(|| json!({ "type": "object" }));
    let [title_key, signs_key] = raw_family::VARIANT_KEYS.map(str::to_owned);
    let mut variant = Map::from_iter([(title_key, told(text(), title)), (signs_key, told(signs, sign))]);
    let fields = form.map(|form| tree(form, form.fields.values()));
    if let Some(fields) = fields.as_ref().and_then(|fields| fields["properties"].as_object()) {
        own.extend(fields.clone());
        variant.extend(fields.clone());
    }
    let closed = form.is_none();
    let variant = json!({ "type": "object", "properties": variant, "additionalProperties": closed });
    set(&mut own, "variants", json!({ "type": "object", "propertyNames": id(), "additionalProperties": variant }));
    document(own, &["family", "form", "sources"], closed)
}

/// A job file for units of any form, or of this one.
pub fn job_schema(form: Option<&Form>, keys: &[(&str, &str)]) -> Json {
    let mut own: Map<String, Json> = keys.iter().map(|(key, said)| ((*key).to_owned(), told(text(), said))).collect();
    for (key, of) in [("family", id()), ("procedure", id()), ("variant", id()), ("invented", truth())] {
        set(&mut own, key, of);
    }
    let facts = form.map(|form| tree(form, form.job.values()));
    if let Some(facts) = facts.as_ref().and_then(|facts| facts["properties"].as_object()) {
        own.extend(facts.clone());
    }
    document(own, &["job", "family", "procedure"], form.is_none())
}

/// With what people are told of it.
fn told(mut schema: Json, said: &str) -> Json {
    schema["description"] = json!(said);
    schema
}

/// Another shape for a key that has been described.
fn set(own: &mut Map<String, Json>, key: &str, shape: Json) {
    let said = own.get(key).and_then(|known| known["description"].as_str()).unwrap_or_default().to_owned();
    own.insert(key.to_owned(), told(shape, &said));
}

fn of_told<T: JsonSchema>() -> Json {
    schemars::schema_for!(T).to_value()
}

fn id() -> Json {
    json!({ "type": ["string", "number"], "pattern": "^[a-z0-9][a-z0-9_-]*$" })
}

fn truth() -> Json {
    json!({ "type": "boolean" })
}

/// A value of the form by its pattern, or `unknown`.
fn or_unknown<T: JsonSchema>() -> Json {
    let mut of = of_told::<T>();
    if let Some(of) = of.as_object_mut() {
        of.remove("$schema");
        of.remove("title");
    }
    json!({ "anyOf": [of, { "const": "unknown" }] })
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
        // Of a pure number the bare one is a value too; what a plugin adds may be one.
        Kind::Quantity(of) if Units::standard().family(of).is_none_or(|family| family.plain) => text(),
        Kind::Quantity(_) => or_unknown::<Amount>(),
        Kind::Range(_) => or_unknown::<SpanWithUnit>(),
        Kind::Date => or_unknown::<Day>(),
        Kind::Table => or_unknown::<Id>(),
        Kind::Text | Kind::Person | Kind::Number => text(),
    }
}
