//! `sources:`, where the content of a file comes from: the same in every kind of file.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde_json::json;

use standpipe_diagnostic::Problems;

use super::{At, Node, read_node};

/// One source: what it is, and who vouches for the copy.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawSource {
    /// `all`, or the fields or groups that it is the source of.
    #[serde(default)]
    pub covers: Option<Node>,
    pub from: At<String>,
    #[serde(default)]
    pub entered_by: Option<At<String>>,
    #[serde(default)]
    pub checked_by: Option<At<String>>,
}

/// A list of sources as written. One of which no more is to be said than what it is may be a plain text.
#[derive(Clone, Debug, Deserialize)]
#[serde(transparent)]
pub struct Sources(Node);

impl Sources {
    /// Reads them; what is no source is reported.
    pub fn read(&self, problems: &mut Problems) -> Vec<RawSource> {
        Self::read_node(&self.0, problems)
    }

    /// The same for a node that was found in a document.
    pub fn read_node(node: &Node, problems: &mut Problems) -> Vec<RawSource> {
        let Some(items) = node.as_list() else {
            return read_node::<Vec<RawSource>>(node, problems).unwrap_or_default();
        };
        let mut sources = Vec::new();
        for item in items {
            match item.as_text() {
                Some(_) => {
                    let from = read_node(item, problems);
                    sources.extend(from.map(|from| RawSource {
                        covers: None,
                        from,
                        entered_by: None,
                        checked_by: None,
                    }));
                }
                None => sources.extend(read_node::<RawSource>(item, problems)),
            }
        }
        sources
    }
}

impl JsonSchema for Sources {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Sources".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let text = |said: &str| json!({ "type": ["string", "number", "boolean"], "description": said });
        let covers = json!({
            "description": "What it is the source of: `all`, or fields and groups of fields.\n\nExample: `covers: [level, plugs]`",
            "anyOf": [{ "type": "string" }, { "type": "array", "items": { "type": "string" } }],
        });
        json_schema!({ "type": "array", "items": { "anyOf": [{ "type": "string" }, {
            "type": "object",
            "properties": {
                "covers": covers,
                "from": text("The source: a document with its date and page.\n\nExample: `from: service sheet 4, page 2`"),
                "entered_by": text("Who copied the values.\n\nExample: `entered_by: RM`"),
                "checked_by": text("Who compared the copy.\n\nExample: `checked_by: JO`"),
            },
            "required": ["from"],
            "additionalProperties": false
        }] } })
    }
}
