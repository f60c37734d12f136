//! A filled form, and its variants.

use std::sync::Arc;

use indexmap::IndexMap;
use serde::Deserialize;

use super::fill::{Filled, complete, fill};
use super::{Form, snake};
use crate::diagnostic::{Code, Diagnostic, Problems};
use crate::quantity::Units;
use crate::source::{At, Place, Source};
use crate::value::Value;
use crate::yaml::{self, Node};

/// Keys of a family file that are not fields of its form.
const KEYS: &[&str] = &["family", "form", "title", "invented", "override", "variants", "sources"];

#[derive(Clone, Debug)]
pub struct Family {
    pub id: String,
    pub title: String,
    pub invented: bool,
    pub form: String,
    /// Every field of the form; what was not entered is unknown.
    facts: Value,
    /// Where each value stands, by path.
    pub places: IndexMap<String, Place>,
    pub variants: IndexMap<String, Variant>,
    pub sources: Vec<Stated>,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct Variant {
    pub title: Option<String>,
    pub signs: IndexMap<String, Value>,
    facts: Value,
    pub places: IndexMap<String, Place>,
    pub place: Place,
}

/// Where values come from, and who vouches for them.
#[derive(Clone, Debug)]
pub struct Stated {
    /// Paths that it covers; none for all.
    pub covers: Option<Vec<String>>,
    pub from: String,
    pub entered_by: Option<String>,
    pub checked_by: Option<String>,
    pub place: Place,
}

/// Where one value stands and what it rests on.
#[derive(Clone, Debug)]
pub struct Origin<'a> {
    pub place: &'a Place,
    pub stated: Option<&'a Stated>,
    /// The place of the family's own value, where a variant has another.
    pub instead_of: Option<&'a Place>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawStated {
    #[serde(default)]
    covers: Option<Node>,
    from: At<String>,
    #[serde(default)]
    entered_by: Option<At<String>>,
    #[serde(default)]
    checked_by: Option<At<String>>,
}

impl Family {
    /// The id and the form that a family file names, without reading the rest.
    pub fn form_of(source: &Arc<Source>) -> Option<String> {
        let root = yaml::parse(source, &mut Problems::new())?;
        root.get("form")?.as_text().map(str::to_owned)
    }

    /// Reads a family against its form; `None` when it can't be used at all.
    pub fn read(source: &Arc<Source>, form: &Form, units: &Units, problems: &mut Problems) -> Option<Family> {
        let root = yaml::parse(source, problems)?;
        let place = root.head();
        let entries = root.as_map()?;
        let text = |key: &str| root.get(key).and_then(Node::as_text).map(str::to_owned);
        let Some(id) = text("family") else {
            problems.push(Diagnostic::error(Code::Y004, &place, "the file has no `family:`").help("add `family: ID`"));
            return None;
        };
        let own: Vec<(At<String>, Node)> =
            entries.iter().filter(|(key, _)| !KEYS.contains(&key.as_str())).cloned().collect();
        let filled = fill(&own, &form.fields, &form.records, units, &form.id, problems);
        let mut facts = filled.facts.clone();
        complete(&mut facts, &form.fields, &form.records);
        let facts = Value::Record(facts);
        let sources = stated(&root, problems);
        let mut variants = IndexMap::new();
        for (key, node) in root.get("variants").and_then(Node::as_map).into_iter().flatten() {
            if let Some(variant) = read_variant(key, node, &facts, form, units, problems) {
                variants.insert(key.value.clone(), variant);
            }
        }
        let family = Family {
            title: text("title").unwrap_or_else(|| id.clone()),
            invented: text("invented").as_deref() == Some("true"),
            form: form.id.clone(),
            facts,
            places: filled.places,
            variants,
            sources,
            place,
            id,
        };
        family.check_required(form, problems);
        family.check_sources(problems);
        family.check_signs(problems);
        Some(family)
    }

    /// The facts of a variant. Without one: what all variants share, the rest unknown.
    pub fn facts(&self, variant: Option<&str>) -> Value {
        match variant.and_then(|id| self.variants.get(id)) {
            Some(variant) => variant.facts.clone(),
            None if self.variants.is_empty() => self.facts.clone(),
            None => in_common(&self.variants.values().map(|variant| &variant.facts).collect::<Vec<_>>()),
        }
    }

    /// Whether a value is unknown only because the variant is not settled.
    pub fn differs(&self, path: &str) -> bool {
        let parts: Vec<&str> = path.split('.').collect();
        self.variants.values().any(|variant| variant.facts.at(&parts).is_some_and(|value| !value.is_unknown()))
            && self.facts(None).at(&parts).is_none_or(Value::is_unknown)
    }

    pub fn origin(&self, variant: Option<&str>, path: &str) -> Option<Origin<'_>> {
        let own = self.places.get(path);
        let other = variant.and_then(|id| self.variants.get(id)).and_then(|variant| variant.places.get(path));
        let stated = self.stated(path);
        match (other, own) {
            (Some(place), instead_of) => Some(Origin { place, stated, instead_of }),
            (None, Some(place)) => Some(Origin { place, stated, instead_of: None }),
            (None, None) => None,
        }
    }

    pub fn stated(&self, path: &str) -> Option<&Stated> {
        let covers = |stated: &&Stated| match &stated.covers {
            None => true,
            Some(paths) => paths.iter().any(|prefix| path == prefix || path.starts_with(&format!("{prefix}."))),
        };
        // What speaks of this field says more than what speaks of all.
        let named = self.sources.iter().filter(|stated| stated.covers.is_some()).find(covers);
        named.or_else(|| self.sources.iter().find(covers))
    }

    fn check_required(&self, form: &Form, problems: &mut Problems) {
        for (path, field) in &form.fields {
            let given = self.places.contains_key(path) || self.variants.values().any(|it| it.places.contains_key(path));
            if field.required && !path.contains('*') && !given {
                problems.push(
                    Diagnostic::error(Code::M002, &self.place, format!("`{}` lacks `{path}`", self.id))
                        .expected(field.expected())
                        .help(format!("look it up and enter it, or write `{path}: unknown` until somebody has")),
                );
            }
        }
    }

    fn check_sources(&self, problems: &mut Problems) {
        for (path, place) in &self.places {
            if self.stated(path).is_none() {
                problems.push(
                    Diagnostic::warning(Code::M006, place, format!("`{path}` has no source"))
                        .help("add it to `sources:` with `covers`, `from`, `entered_by` and `checked_by`"),
                );
            }
        }
    }

    fn check_signs(&self, problems: &mut Problems) {
        if self.variants.len() < 2 {
            return;
        }
        let all: Vec<(&String, &Variant)> = self.variants.iter().collect();
        for (index, (id, variant)) in all.iter().enumerate() {
            if variant.signs.is_empty() {
                problems.push(
                    Diagnostic::error(Code::M005, &variant.place, format!("nothing tells variant `{id}` from the others"))
                        .help("add `recognised_by:` with what is seen on it"),
                );
            }
            for (other, earlier) in &all[..index] {
                if !variant.signs.is_empty() && variant.signs == earlier.signs {
                    problems.push(
                        Diagnostic::error(Code::M005, &variant.place, format!("`{id}` and `{other}` show the same signs"))
                            .also(&earlier.place, "the other one")
                            .help("name a sign in which they differ"),
                    );
                }
            }
        }
    }
}

fn read_variant(
    key: &At<String>,
    node: &Node,
    base: &Value,
    form: &Form,
    units: &Units,
    problems: &mut Problems,
) -> Option<Variant> {
    let Some(entries) = node.as_map() else {
        problems.push(
            Diagnostic::error(Code::Y005, &node.head(), format!("variant `{}` is not a map", key.value))
                .expected("`recognised_by:` and the fields in which it differs"),
        );
        return None;
    };
    let mut signs = IndexMap::new();
    let seen = node.get("recognised_by").and_then(Node::as_map).unwrap_or_default();
    for (sign, value) in seen {
        match (form.signs.get(&snake(sign)), value.as_text()) {
            (Some(field), Some(text)) => match field.read(text, units) {
                Ok(value) => {
                    signs.insert(snake(sign), value);
                }
                Err(fault) => problems.push(fault.at(&value.head()).expected(field.expected())),
            },
            (None, _) => problems.push(
                Diagnostic::error(Code::M001, &sign.place, format!("the form knows no sign `{}`", sign.value))
                    .expected(form.signs.keys().cloned().collect::<Vec<_>>().join(", ")),
            ),
            (Some(field), None) => problems.push(
                Diagnostic::error(Code::M003, &value.head(), format!("`{}` is not one value", sign.value))
                    .expected(field.expected()),
            ),
        }
    }
    let own: Vec<(At<String>, Node)> = entries
        .iter()
        .filter(|(key, _)| !matches!(key.as_str(), "recognised_by" | "title"))
        .cloned()
        .collect();
    let Filled { facts, places } = fill(&own, &form.fields, &form.records, units, &form.id, problems);
    let mut merged = base.clone();
    merge(&mut merged, &Value::Record(facts));
    Some(Variant {
        title: node.get("title").and_then(Node::as_text).map(str::to_owned),
        signs,
        facts: merged,
        places,
        place: key.place.clone(),
    })
}

/// Lays one record over another, entry by entry.
fn merge(under: &mut Value, over: &Value) {
    match (under, over) {
        (Value::Record(under), Value::Record(over)) => {
            for (name, value) in over {
                match under.get_mut(name) {
                    Some(below) => merge(below, value),
                    None => {
                        under.insert(name.clone(), value.clone());
                    }
                }
            }
        }
        (under, over) => *under = over.clone(),
    }
}

/// What several facts have in common; where they differ it is unknown.
fn in_common(all: &[&Value]) -> Value {
    let Some((first, rest)) = all.split_first() else { return Value::Unknown };
    if rest.iter().all(|other| other == first) {
        return (*first).clone();
    }
    let records: Option<Vec<&IndexMap<String, Value>>> = all
        .iter()
        .map(|value| match value {
            Value::Record(fields) => Some(fields),
            _ => None,
        })
        .collect();
    let Some(records) = records else { return Value::Unknown };
    let names: indexmap::IndexSet<&String> = records.iter().flat_map(|record| record.keys()).collect();
    let shared = names.into_iter().map(|name| {
        let values: Vec<&Value> = records.iter().map(|record| record.get(name).unwrap_or(&Value::Unknown)).collect();
        (name.clone(), in_common(&values))
    });
    Value::Record(shared.collect())
}

fn stated(root: &Node, problems: &mut Problems) -> Vec<Stated> {
    let nodes = root.get("sources").and_then(Node::as_list).unwrap_or_default();
    nodes
        .iter()
        .filter_map(|node| {
            let raw: RawStated = yaml::read_node(node, problems)?;
            let covers = raw.covers.and_then(|covers| {
                covers.as_list().map(|paths| paths.iter().filter_map(Node::as_text).map(snake).collect())
            });
            Some(Stated {
                covers,
                from: raw.from.value,
                entered_by: raw.entered_by.map(|by| by.value),
                checked_by: raw.checked_by.map(|by| by.value),
                place: node.head(),
            })
        })
        .collect()
}
