//! A family as written, and the check that makes a [`Family`] of it.

use std::sync::Arc;

use indexmap::IndexMap;

use super::facts::Facts;
use super::family::{Family, unsettled};
use super::field::Field;
use super::filling::{Filled, Filling, facts};
use super::sign::SignValue;
use super::source_note::SourceNotes;
use super::variant::Variant;
use super::{Form, completeness, snake};
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_quantity::Kind;
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_yaml::{self as yaml, At, Node};

/// Keys of a family that are no fields.
pub(super) const KEYS: [&str; 7] = ["family", "form", "title", "invented", "override", "sources", "variants"];
pub(super) const VARIANT_KEYS: [&str; 2] = ["title", "recognised_by"];

/// What editors are told of them.
pub(super) const TOLD: [&str; 7] = [
    "Id of the family: the name of its file.\n\nExample: `family: heron`",
    "The form that it fills.\n\nExample: `form: plug-or-stick`",
    "What people read as its name.\n\nExample: `title: Heron, six-speed transverse`",
    "No such unit exists; card and record say so.\n\nExample: `invented: true`",
    "Replaces the family with the same id in an earlier plugin.\n\nExample: `override: true`",
    "Where its values are from, who typed them and who checked them.\n\nExample: `sources: [{ covers: all, from: service sheet 4, entered_by: RM }]`",
    "What differs within the family, each with the signs that it is told by.\n\nExample: `variants: { deep: { recognised_by: { screws: 12 } } }`",
];
pub(super) const VARIANTS_TOLD: [&str; 2] = [
    "What people read as its name.\n\nExample: `title: The deep one`",
    "What a person can see or count that tells it from the others.\n\nExample: `recognised_by: { screws: 12 }`",
];

/// The keys that have to be read before the form is known.
#[derive(Clone, Debug)]
pub struct RawFamily {
    /// What it is called by.
    pub id: At<String>,
    /// Id of the form that it fills.
    pub form: At<String>,
    title: Option<String>,
    invented: bool,
    root: Node,
}

impl RawFamily {
    /// Reads a family as written; `None` if that can't be relied on.
    pub fn read(source: &Arc<Source>, problems: &mut Problems) -> Option<RawFamily> {
        let before = problems.len();
        let root = yaml::parse(source, problems)?;
        let mut text = |key: &str| match root.entry(key) {
            Some((_, node)) => yaml::read_node::<At<String>>(node, problems),
            None => {
                problems.push(
                    Diagnostic::error(Code::MissingKey, &root.head(), format!("`{key}` is missing"))
                        .absent()
                        .help(format!("add `{key}:` to these keys")),
                );
                None
            }
        };
        let (id, form) = (text("family"), text("form"));
        let title = root.get("title").and_then(|node| yaml::read_node(node, problems));
        let invented = root.get("invented").and_then(|node| yaml::read_node(node, problems)).unwrap_or(false);
        if let Some(node) = root.get("override") {
            yaml::read_node::<bool>(node, problems);
        }
        let sound = !problems[before..].iter().any(Diagnostic::is_error);
        Some(RawFamily { id: id?, form: form?, title, invented, root }).filter(|_| sound)
    }

    /// Checks the family against its form; `None` if it can't be relied on.
    pub fn check(self, form: &Form, units: &Units, problems: &mut Problems) -> Option<Family> {
        let before = problems.len();
        let notes = SourceNotes::read(self.root.get("sources"), problems);
        let entries = self.root.as_map().unwrap_or_default();
        let mut filling = Filling {
            form,
            fields: &form.fields,
            units,
            variant: None,
            problems: &mut *problems,
            filled: Filled::new(),
            tables: Vec::new(),
        };
        filling.take("", entries.iter().filter(|(key, _)| !KEYS.contains(&key.as_str())));
        let (base, mut tables) = (filling.filled, filling.tables);
        let mut variants: IndexMap<String, (Variant, Filled)> = IndexMap::new();
        if let Some(node) = self.root.get("variants") {
            match node.as_map() {
                Some(entries) => {
                    for (id, node) in entries {
                        let read = variant(id, node, form, units, &base, &mut tables, problems);
                        variants.insert(id.value.clone(), read);
                    }
                }
                None => problems.push(
                    Diagnostic::error(
                        Code::UnfitValue,
                        &node.head(),
                        format!("expected variants, found {}", node.described()),
                    )
                    .help("write each variant as a key with what is different in it"),
                ),
            }
        }
        completeness::report_missing(form, &base, &variants, &self.root, problems);
        completeness::report_covers(form, &notes, problems);
        completeness::report_without_source(&base, &variants, &notes, &self.root, problems);
        completeness::report_alike(&variants, problems);
        let all: Vec<Variant> = variants
            .into_values()
            .map(|(variant, filled)| Variant { facts: facts(form, &form.fields, &filled, &notes), ..variant })
            .collect();
        let base = facts(form, &form.fields, &base, &notes);
        let family = Family {
            id: self.id.value,
            form: self.form.value,
            title: self.title,
            invented: self.invented,
            unsettled: unsettled(base, &all),
            variants: all.into_iter().map(|variant| (variant.id.clone(), variant)).collect(),
            tables,
            place: self.id.place,
        };
        (!problems[before..].iter().any(Diagnostic::is_error)).then_some(family)
    }
}

fn variant(
    id: &At<String>,
    node: &Node,
    form: &Form,
    units: &Units,
    base: &Filled,
    tables: &mut Vec<At<String>>,
    problems: &mut Problems,
) -> (Variant, Filled) {
    let entries = node.as_map().unwrap_or_default();
    if node.as_map().is_none() {
        problems.push(
            Diagnostic::error(
                Code::UnfitValue,
                &node.head(),
                format!("expected a variant, found {}", node.described()),
            )
            .help("write `recognised_by:` and what is different below its name"),
        );
    }
    if !id.chars().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-') {
        let written: String = id.to_lowercase().split_whitespace().collect::<Vec<_>>().join("-");
        problems.push(
            Diagnostic::error(Code::MisplacedId, &id.place, format!("`{}` can't be an id", id.value))
                .expected("lower-case letters, digits and hyphens")
                .help(format!("write `{written}:`; what people see is `title:`")),
        );
    }
    let title = node.get("title").and_then(|title| yaml::read_node(title, problems));
    let signs = signs(id, node, form, units, problems);
    let mut filling = Filling {
        form,
        fields: &form.fields,
        units,
        variant: Some(&id.value),
        problems,
        filled: Filled::new(),
        tables: Vec::new(),
    };
    filling.take("", entries.iter().filter(|(key, _)| !VARIANT_KEYS.contains(&key.as_str())));
    tables.append(&mut filling.tables);
    let mut filled = base.clone();
    let mut doubted: Vec<String> = Vec::new();
    for (path, mut given) in filling.filled {
        if let Some((written, near)) = another_name(form, base, &path)
            && !doubted.contains(&written)
        {
            let message = format!("only this variant has `{written}`");
            problems.push(
                Diagnostic::warning(Code::UnknownField, &given.place, message).help(format!("did you mean `{near}`?")),
            );
            doubted.push(written);
        }
        if let Some(earlier) = base.get(&path) {
            given.overrides.push(earlier.place.clone());
        }
        filled.insert(path, given);
    }
    (Variant { id: id.value.clone(), title, signs, facts: Facts::default(), place: id.place.clone() }, filled)
}

/// A record of a group of any names that the family does not have, beside one that it has and that is written nearly alike.
fn another_name(form: &Form, base: &Filled, path: &str) -> Option<(String, String)> {
    let groups = form.fields.keys().filter_map(|field| field.strip_suffix('*'));
    groups.into_iter().find_map(|group| {
        let name_of = |path: &str| path.strip_prefix(group)?.split('.').next().map(str::to_owned);
        let name = name_of(path)?;
        let known: Vec<String> = base.keys().filter_map(|path| name_of(path)).collect();
        if known.contains(&name) {
            return None;
        }
        let near = nearest(&name, known.iter().map(String::as_str))?;
        Some((format!("{group}{name}"), near.to_owned()))
    })
}

fn signs(
    id: &At<String>,
    node: &Node,
    form: &Form,
    units: &Units,
    problems: &mut Problems,
) -> IndexMap<String, SignValue> {
    let mut signs = IndexMap::new();
    let written = node.get("recognised_by");
    for (name, node) in written.and_then(Node::as_map).unwrap_or_default() {
        let Some(field) = form.signs.get(&snake(name)) else {
            let known: Vec<&str> = form.signs.keys().map(String::as_str).collect();
            let message = format!("the form `{}` has no sign `{}`", form.id, name.value);
            let problem = Diagnostic::error(Code::UnknownField, &name.place, message);
            let otherwise = format!("add it to `recognised_by:` of the form; known there: {}", known.join(", "));
            problems.push(problem.nearest(name, known, otherwise));
            continue;
        };
        let values: Vec<Value> = match node.as_list() {
            Some(items) => items.iter().map(|item| sign_value(field, item, units, problems)).collect(),
            None => vec![sign_value(field, node, units, problems)],
        };
        signs.insert(field.path.clone(), SignValue(values.into_iter().filter(|value| !value.is_unknown()).collect()));
    }
    if signs.is_empty() && written.and_then(Node::as_map).is_none_or(<[_]>::is_empty) {
        problems.push(
            Diagnostic::error(
                Code::VariantWithoutSign,
                &id.place,
                format!("nothing tells the variant `{}` from the others", id.value),
            )
            .help("add `recognised_by:` with at least one sign of the form"),
        );
    }
    signs
}

/// A sign of a quantity may be a range: `10..12 mm`.
fn sign_value(field: &Field, node: &Node, units: &Units, problems: &mut Problems) -> Value {
    if let (Kind::Quantity(quantity), Some(text)) = (&field.kind, node.as_text())
        && let Ok(range) = units.read_range(text, Some(quantity), None)
    {
        return range;
    }
    field.read_node(node, units, problems)
}
