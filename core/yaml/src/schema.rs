//! What editors are told of places where more than one shape may stand.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::told::NO_EXPRESSION;
use super::{Node, Script};

impl JsonSchema for Node {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Anything".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        Schema::default()
    }
}

impl JsonSchema for Script {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Expression".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "number", "boolean"], "not": { "type": "string", "pattern": NO_EXPRESSION } })
    }
}
