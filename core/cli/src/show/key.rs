//! What a key of a file means, from the same words that editors are told.

use clap::ValueEnum;
use serde_json::{Map, Value as Json, json};

use super::{Found, Shown, absent};
use crate::args::SchemaKind;
use crate::schema;
use standpipe_diagnostic::columns::{hang, wrap};
use standpipe_diagnostic::nearest;
use standpipe_job::plan::typed;

/// Files that people write; the others are results.
const KINDS: &[SchemaKind] = &[
    SchemaKind::Plugin,
    SchemaKind::Units,
    SchemaKind::Form,
    SchemaKind::Family,
    SchemaKind::Procedure,
    SchemaKind::Sheet,
    SchemaKind::Overlay,
    SchemaKind::Log,
    SchemaKind::Case,
    SchemaKind::Shop,
    SchemaKind::Job,
    SchemaKind::Answers,
    SchemaKind::Model,
    SchemaKind::People,
];

/// All kinds of files, and how to go on.
pub fn kinds() -> Shown {
    let names: Vec<String> = KINDS.iter().map(|kind| name(*kind)).collect();
    let text = format!("kinds of files: {}\n`standpipe show key procedure` lists the keys of one\n", names.join(", "));
    Shown { text, json: json!({ "kinds": names }), html: None }
}

fn name(kind: SchemaKind) -> String {
    kind.to_possible_value().map(|value| value.get_name().to_owned()).unwrap_or_default()
}

/// The key of a path such as `procedure.steps.hold`; a kind of file alone has all of its keys.
pub fn show(path: &str, width: usize) -> Found {
    let at = typed("<ID>", path);
    let mut parts = path.split('.');
    let word = parts.next().unwrap_or_default();
    let Some(kind) = KINDS.iter().find(|kind| name(**kind) == word) else {
        let names: Vec<String> = KINDS.iter().map(|kind| name(*kind)).collect();
        return Err(absent("key", &at, nearest(word, names.iter().map(String::as_str))));
    };
    let root = schema::of(*kind, None);
    let mut here = Key { root: &root, schema: &root, needed: true };
    for part in parts {
        let keys = here.keys();
        here = match keys.iter().find(|(name, _)| name == part) {
            Some((_, key)) => *key,
            // A name of one's own, such as that of a reading.
            None => match here.under_any_name() {
                Some(key) => key,
                None => return Err(absent("key", &at, nearest(part, keys.iter().map(|(name, _)| name.as_str())))),
            },
        };
    }
    Ok(here.shown(path, width))
}

#[derive(Clone, Copy)]
struct Key<'a> {
    root: &'a Json,
    schema: &'a Json,
    needed: bool,
}

impl<'a> Key<'a> {
    /// The schema and every one that it refers to or is made of: what stands in a list or in one of several shapes.
    fn shapes(self) -> Vec<&'a Json> {
        let mut found: Vec<&Json> = Vec::new();
        let mut open = vec![self.schema];
        while let Some(schema) = open.pop() {
            if found.iter().any(|known| std::ptr::eq(*known, schema)) {
                continue;
            }
            found.push(schema);
            let reference = schema["$ref"].as_str().and_then(|path| self.root.pointer(path.strip_prefix('#')?));
            open.extend(reference);
            open.extend(schema.get("items"));
            let several = ["anyOf", "allOf"].iter().filter_map(|key| schema[*key].as_array());
            open.extend(several.flatten());
        }
        found
    }

    fn keys(self) -> Vec<(String, Key<'a>)> {
        let mut keys: Vec<(String, Key<'a>)> = Vec::new();
        for shape in self.shapes() {
            let required = shape["required"].as_array();
            for (name, schema) in shape["properties"].as_object().into_iter().flatten() {
                let needed = required.is_some_and(|all| all.iter().any(|one| one == name));
                if !keys.iter().any(|(known, _)| known == name) {
                    keys.push((name.clone(), Key { root: self.root, schema, needed }));
                }
            }
        }
        keys
    }

    fn under_any_name(self) -> Option<Key<'a>> {
        let inner = self.shapes().into_iter().find_map(|shape| shape.get("additionalProperties"));
        inner.filter(|inner| inner.is_object()).map(|schema| Key { root: self.root, schema, needed: false })
    }

    /// The sentence, and the example.
    fn told(self) -> (String, Option<String>) {
        let said = self.shapes().into_iter().find_map(|shape| shape["description"].as_str()).unwrap_or_default();
        match said.split_once("Example: `") {
            Some((said, example)) => {
                let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
                (said, Some(example.trim_end().trim_end_matches('`').to_owned()))
            }
            None => (said.split_whitespace().collect::<Vec<_>>().join(" "), None),
        }
    }

    /// The words that can stand there, where there are only these.
    fn choices(self) -> Vec<String> {
        let listed = self.shapes().into_iter().filter_map(|shape| shape["enum"].as_array()).flatten();
        listed.filter_map(|one| one.as_str().map(str::to_owned)).collect()
    }

    fn shown(self, path: &str, width: usize) -> Shown {
        let (said, example) = self.told();
        let left_out = match (self.needed, self.schema.get("default")) {
            (true, _) => "it has to be there".to_owned(),
            (false, Some(Json::Bool(default))) => format!("it is `{default}`"),
            (false, _) => "there is none".to_owned(),
        };
        let choices = self.choices();
        let inner = self.under_any_name();
        let keys = match (self.keys(), inner) {
            (keys, Some(inner)) if keys.is_empty() => inner.keys(),
            (keys, _) => keys,
        };
        let mut text = format!("{path}\n");
        for line in wrap(&said, width.saturating_sub(2)) {
            text.push_str(&format!("  {line}\n"));
        }
        let mut row = |label: &str, what: &str| {
            for line in hang(&format!("  {label:<10}"), what, width) {
                text.push_str(&(line.trim_end().to_owned() + "\n"));
            }
        };
        if let Some(example) = &example {
            row("example", example);
        }
        if path.contains('.') {
            row("left out", &left_out);
        }
        if !choices.is_empty() {
            row("one of", &choices.join(", "));
        }
        let mut listed = Map::new();
        if !keys.is_empty() {
            text.push_str("\nkeys\n");
        }
        let widest = keys.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
        for (name, key) in &keys {
            let (said, _) = key.told();
            for line in hang(&format!("  {name:<widest$}  "), &said, width) {
                text.push_str(&(line.trim_end().to_owned() + "\n"));
            }
            listed.insert(name.clone(), json!(said));
        }
        let json = json!({
            "key": path, "about": said, "example": example, "needed": self.needed,
            "default": self.schema.get("default"), "one_of": choices, "keys": listed,
        });
        Shown { text, json, html: None }
    }
}
