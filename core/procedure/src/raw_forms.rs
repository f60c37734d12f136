//! How the keys that take more than one form are read.

use std::borrow::Cow;
use std::fmt;

use indexmap::IndexMap;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};

use super::raw::{OneOrMany, RawOptions, RawOtherwise};
use standpipe_yaml::At;

impl<'de> Deserialize<'de> for OneOrMany {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Shape;
        impl<'de> Visitor<'de> for Shape {
            type Value = OneOrMany;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text or a list of texts")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<OneOrMany, E> {
                Ok(OneOrMany(vec![text.to_owned()]))
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<OneOrMany, A::Error> {
                let mut all = Vec::new();
                while let Some(item) = items.next_element::<String>()? {
                    all.push(item);
                }
                Ok(OneOrMany(all))
            }
        }
        deserializer.deserialize_any(Shape)
    }
}

impl<'de> Deserialize<'de> for RawOptions {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Shape;
        impl<'de> Visitor<'de> for Shape {
            type Value = RawOptions;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of options, or options with an explanation each")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<RawOptions, A::Error> {
                let mut all = Vec::new();
                while let Some(item) = items.next_element::<At<String>>()? {
                    all.push(item);
                }
                Ok(RawOptions::Names(all))
            }

            fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<RawOptions, A::Error> {
                let mut all = IndexMap::new();
                while let Some((name, meaning)) = entries.next_entry::<String, At<String>>()? {
                    all.insert(name, meaning);
                }
                Ok(RawOptions::Explained(all))
            }
        }
        deserializer.deserialize_any(Shape)
    }
}

impl<'de> Deserialize<'de> for RawOtherwise {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Shape;
        impl<'de> Visitor<'de> for Shape {
            type Value = RawOtherwise;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("wait, stop, next-round, `{ again: [steps] }`, or `{ ask: [roles] }`")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<RawOtherwise, E> {
                Ok(RawOtherwise::Word(text.to_owned()))
            }

            fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<RawOtherwise, A::Error> {
                const EXPECTED: &str = "expected `ask: [roles]` or `again: [steps]`";
                let mut found = None;
                while let Some(key) = entries.next_key::<String>()? {
                    let of = match key.as_str() {
                        "ask" if found.is_none() => RawOtherwise::Ask,
                        "again" if found.is_none() => RawOtherwise::Again,
                        _ => return Err(A::Error::custom(format!("`{key}` does not belong here; {EXPECTED}"))),
                    };
                    found = Some(of(entries.next_value::<Vec<At<String>>>()?));
                }
                match found {
                    Some(RawOtherwise::Again(steps)) if steps.is_empty() => {
                        Err(A::Error::custom("`again:` names no step; expected one or more, or `otherwise: wait`"))
                    }
                    found => found.ok_or_else(|| A::Error::custom(EXPECTED)),
                }
            }
        }
        deserializer.deserialize_any(Shape)
    }
}

/// What editors are told of each of these.
macro_rules! told {
    ($($of:ty, $name:literal: $schema:tt;)+) => {$(
        impl JsonSchema for $of {
            fn schema_name() -> Cow<'static, str> {
                $name.into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!($schema)
            }
        }
    )+};
}

told! {
    OneOrMany, "OneOrMany": {
        "type": ["string", "array"],
        "pattern": "^([0-9.]+ ?[a-z]+|[a-z][a-z0-9-]*)$",
        "items": { "type": "string", "pattern": "^([0-9.]+ ?[a-z]+|[a-z][a-z0-9-]*)$" }
    };
    RawOptions, "Options": {
        "type": ["array", "object"],
        "items": { "type": ["string", "number", "boolean"] },
        "additionalProperties": { "type": ["string", "number", "boolean"] }
    };
    RawOtherwise, "Otherwise": {
        "anyOf": [
            { "enum": ["wait", "stop", "next-round"] },
            {
                "type": "object",
                "properties": {
                    "ask": {
                        "type": "array",
                        "items": { "type": "string" },
                        "description": "Roles of which one may go on, with a reason.\n\nExample: `ask: [foreman]`"
                    }
                },
                "required": ["ask"],
                "additionalProperties": false
            },
            {
                "type": "object",
                "properties": {
                    "again": {
                        "type": "array",
                        "minItems": 1,
                        "items": { "type": "string", "pattern": "^[a-z][a-z0-9-]*$" },
                        "description": "Steps before this one in the same list, to be done once more before it is asked again.\n\nExample: `again: [go-through]`"
                    }
                },
                "required": ["again"],
                "additionalProperties": false
            }
        ]
    };
}
