//! What editors are told of texts that have a form of their own: `#[schemars(with = "told::Id")]`.
//!
//! Looser than the check, never stricter: an editor must not mark what is read well. Patterns are those of ECMA-262 without
//! looking ahead, so that every validator has them.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

/// Of these keys there has to be one, and no more.
pub fn exactly_one(schema: &mut Schema, keys: &[&str]) {
    let one: Vec<serde_json::Value> = keys.iter().map(|key| serde_json::json!({ "required": [key] })).collect();
    schema.insert("oneOf".to_owned(), one.into());
}

/// Where one key stands the others have to.
pub fn together(schema: &mut Schema, needs: &[(&str, &[&str])]) {
    let needs = needs.iter().map(|(key, others)| ((*key).to_owned(), serde_json::json!(others)));
    schema.insert("dependentRequired".to_owned(), serde_json::Value::Object(needs.collect()));
}

/// Names in it are of this form.
pub fn names_like(schema: &mut Schema, pattern: &str) {
    schema.insert("propertyNames".to_owned(), serde_json::json!({ "pattern": pattern }));
}

/// Names that scripts see.
pub fn script_names(schema: &mut Schema) {
    names_like(schema, "^[a-z][a-z0-9_]*$");
}

/// Ids.
pub fn ids(schema: &mut Schema) {
    names_like(schema, "^[a-z0-9][a-z0-9-]*$");
}

/// Paths of fields, the last part of which may stand for any name.
pub fn field_paths(schema: &mut Schema) {
    names_like(schema, "^[a-z][a-z0-9_-]*([.]([a-z0-9_-]+|[*]))*$");
}

macro_rules! told {
    ($($(#[$doc:meta])* $name:ident: $schema:tt;)+) => {$(
        $(#[$doc])*
        pub struct $name;

        impl JsonSchema for $name {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!($schema)
            }
        }
    )+};
}

told! {
    /// An id: `tightening-order`.
    Id: { "type": ["string", "number"], "pattern": "^[a-z0-9][a-z0-9_-]*$" };
    /// The path of a field: `level.window`.
    FieldPath: { "type": "string", "pattern": "^[a-z][a-z0-9_-]*(\\.[a-z0-9_*-]+)*$", "not": { "pattern": "^(spec|job)\\." } };
    /// A number with its unit: `7.3 N·m`.
    Amount: { "type": "string", "pattern": "^[-+−±~]?[ ]*[0-9.,][0-9.,' ]*[^0-9.,' :].*$" };
    /// From one number to another, with their unit: `47..56 degC`.
    Span: { "type": "string", "pattern": "^[-+−]?[ ]*[0-9.].*(\\.\\.|-|–| to ).*[0-9].*$" };
    /// The same of what always has a unit.
    SpanWithUnit: { "type": "string", "pattern": "^[-+−]?[ ]*[0-9.].*(\\.\\.|-|–| to ).*[0-9][0-9.,' ]*[^0-9.,' ].*$" };
    /// A text with `{placeholders}`.
    Template: { "type": ["string", "number"], "pattern": "^([^{}]|[{][^{}]*[}])*$" };
    /// How often something may be done.
    AtLeastOnce: { "type": "integer", "minimum": 1 };
    /// A day: `2026-05-04`.
    Day: { "type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" };
    /// A share: `95 %`.
    Share: { "type": "string", "pattern": "^[0-9.]+ ?(%|\\.percent)$" };
    /// A kind of value: `range of temperature`.
    ValueKind: { "type": "string", "pattern": "^ *(list of +)?(range of +)?[a-z][a-z0-9-]*( +)?$" };
    /// A function of a script: `drum::room`.
    Function: { "type": "string", "pattern": "^[a-z][a-z0-9_]*::[a-z][a-z0-9_]*$" };
    /// Three numbers: `1.0.0`.
    Version: { "type": "string", "pattern": "^[0-9]+\\.[0-9]+\\.[0-9]+" };
    /// What a step wants attached.
    Evidence: { "enum": ["photo", "photo-optional"] };
    /// Where a picture stands.
    Page: { "enum": ["card", "record"] };
    /// What follows a range that was passed.
    Overshot: { "enum": ["next-round", "go-on", "wait"] };
    /// What follows a value beyond where a formula holds.
    Outside: { "enum": ["warn", "refuse"] };
    /// Words, no number and no list.
    Words: { "type": "string" };
    /// A time of day with its date, or how long after the one before.
    When: {
        "type": "string",
        "pattern": "^ *([0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}.*|[+] ?[0-9.]+ ?[a-z].*)$"
    };
}

/// What an expression is not: a single `=` or `&`, words for `&&` and `||`, a unit behind a space, signs of paper, two comparisons
/// in a chain. Texts in quotes may have any of it.
pub(crate) const NO_EXPRESSION: &str = concat!(
    r#"^([^"]*"[^"]*")*[^"]*("#,
    r#"[^=!<>"]=([^=]|$)|=<|[^&]&([^&]|$)|\+-"#,
    r#"|(^|[^A-Za-z0-9_"])(and|or|is|within) "#,
    r#"|[0-9] +([A-Za-hj-z°µ%]|i[a-mo-z])|[“”„≤≥≠×]|'[a-z ]+'"#,
    r#"|[<>]=? *[^"&|()<>]*[^"&|()<>=-]>?[<>]=? "#,
    r#")"#
);
