//! Keys that a document does not have: misspelt, or written at the wrong indentation.
//!
//! A key that slipped out of its block is unknown where it now stands and missing where it belongs. Both are one fault,
//! and it is the key that gets the message.

use std::ops::Range;

use super::fault::listed;
use super::node::Node;
use crate::At;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near, Problems};

/// Words that come to mind for a key, and the key.
const SYNONYMS: &[(&str, &str)] = &[
    ("check", "gate"),
    ("choices", "one_of"),
    ("choose", "pick"),
    ("condition", "must"),
    ("does", "do"),
    ("else", "otherwise"),
    ("hint", "help"),
    ("if", "when"),
    ("loop", "repeat"),
    ("max", "at_most"),
    ("maximum", "at_most"),
    ("min", "at_least"),
    ("minimum", "at_least"),
    ("note", "why"),
    ("only_if", "when"),
    ("options", "one_of"),
    ("photo", "evidence"),
    ("quantity", "is"),
    ("question", "ask"),
    ("reason", "because"),
    ("tool", "instrument"),
    ("type", "is"),
    ("type", "kind"),
    ("wait", "hold"),
    ("warning", "caution"),
];

fn synonym(key: &str, fields: &[&'static str]) -> Option<&'static str> {
    let meant = SYNONYMS.iter().filter(|(word, _)| *word == key).map(|(_, meant)| *meant);
    meant.into_iter().find(|meant| fields.contains(meant))
}

#[derive(Default)]
pub(super) struct UnknownKeys {
    structs: Vec<Known>,
    keys: Vec<Unknown>,
    missing: Vec<(usize, &'static str)>,
}

/// A map that was read as a struct.
struct Known {
    range: Range<usize>,
    head: Place,
    fields: &'static [&'static str],
    present: Vec<String>,
    keys_on_lines: bool,
}

struct Unknown {
    key: At<String>,
    /// Start of the map that it stands in.
    map: usize,
}

impl UnknownKeys {
    pub(super) fn visit(&mut self, node: &Node, fields: &'static [&'static str]) {
        let range = node.place.range();
        let entries = node.as_map().unwrap_or_default();
        if self.structs.iter().any(|known| known.range == range && known.fields == fields) {
            return;
        }
        self.structs.push(Known {
            head: node.head(),
            fields,
            present: entries.iter().map(|(key, _)| key.value.clone()).collect(),
            keys_on_lines: !node.place.text().starts_with('{'),
            range,
        });
    }

    pub(super) fn add(&mut self, key: &At<String>, map: &Node) {
        if self.keys.iter().all(|known| known.key.place != key.place) {
            self.keys.push(Unknown { key: key.clone(), map: map.place.range().start });
        }
    }

    pub(super) fn missing(&mut self, map: &Node, name: &'static str) {
        self.missing.push((map.place.range().start, name));
    }

    /// Turns what was gathered into diagnostics, and takes those out that say the same of the place a key is missing from.
    pub(super) fn explain(self, found: &mut Problems) {
        for unknown in &self.keys {
            let key = unknown.key.value.as_str();

            let problem = Diagnostic::error(Code::UnknownKey, &unknown.key.place, format!("unknown key `{key}`"));
            let own: Vec<&Known> = self.structs.iter().filter(|known| known.range.start == unknown.map).collect();
            let fields: Vec<&str> = own.iter().flat_map(|known| known.fields.iter().copied()).collect();
            let home = self.home(unknown);
            let synonym = synonym(key, &fields).map(|name| Near { name: name.to_owned(), certain: false });
            let near = synonym.or_else(|| Near::of(key, fields.iter().copied()));
            let (problem, also_missing) = match (home, &near) {
                (Some(home), _) => {
                    let column = home.head.column() - 1;
                    let problem = problem
                        .label("at this indentation")
                        .also(&home.head, format!("`{key}` belongs to these keys"))
                        .help(format!("indent it by {column} spaces, as `{}`", home.present.first().map_or("", |k| k)));
                    (problem, Some((home.range.start, key)))
                }
                (None, Some(near)) => (problem.meant(key, near), Some((unknown.map, near.name.as_str()))),
                (None, None) => {
                    let known = if fields.is_empty() { "nothing".into() } else { listed(&fields) };
                    (problem.help(format!("remove it; what can stand here is {known}")), None)
                }
            };
            if let Some((map, name)) = also_missing
                && self.missing.iter().any(|(start, missing)| *start == map && *missing == name)
            {
                found.retain(|p| {
                    !(p.code == Code::MissingKey
                        && p.message == format!("`{name}` is missing")
                        && self.at(map, &p.place))
                });
            }
            found.push(problem);
        }
    }

    fn at(&self, map: usize, place: &Place) -> bool {
        self.structs.iter().any(|known| known.range.start == map && known.head.range().start == place.range().start)
    }

    /// The block of keys that this one slipped out of: the one just above that lacks it, or one around it.
    fn home(&self, unknown: &Unknown) -> Option<&Known> {
        let key = unknown.key.value.as_str();
        let start = unknown.key.place.range().start;
        let lacks = |known: &&Known| {
            known.keys_on_lines
                && known.range.start != unknown.map
                && known.fields.contains(&key)
                && !known.present.iter().any(|present| present == key)
        };
        let above = self.structs.iter().filter(lacks).filter(|k| k.range.end <= start && k.range.start > unknown.map);
        let around = self.structs.iter().filter(lacks).filter(|k| k.range.start < unknown.map && k.range.end > start);
        let nearest_above = above.max_by_key(|known| known.range.end).filter(|known| {
            // Only a block that ends right where the key stands can have lost it.
            let between = &unknown.key.place.source().text[known.range.end..start];
            between.trim().is_empty()
        });
        nearest_above.or_else(|| around.min_by_key(|known| known.range.len()))
    }
}
