//! Reading what is known, field by field, against a form.

use indexmap::IndexMap;

use super::field::{Field, FieldKind};
use super::{Records, snake};
use crate::diagnostic::{Code, Diagnostic, Problems, nearest};
use crate::quantity::Units;
use crate::source::{At, Place};
use crate::value::Value;
use crate::yaml::Node;

/// What was read: only what is written, by script names, and the place of every value by its path.
#[derive(Clone, Debug, Default)]
pub struct Filled {
    pub facts: IndexMap<String, Value>,
    pub places: IndexMap<String, Place>,
}

/// What a reading is checked against.
pub struct Against<'a> {
    pub fields: &'a IndexMap<String, Field>,
    pub records: &'a Records,
    pub units: &'a Units,
    /// What the form is called, for messages.
    pub form: &'a str,
}

/// Reads entries against the fields of a form. What is not written stays out; [`complete`] adds it as unknown.
pub fn fill(
    entries: &[(At<String>, Node)],
    fields: &IndexMap<String, Field>,
    records: &Records,
    units: &Units,
    form: &str,
    problems: &mut Problems,
) -> Filled {
    let against = Against { fields, records, units, form };
    let mut filled = Filled::default();
    level(entries, "", &against, &mut filled, problems);
    filled
}

/// Adds every field of the form that is not there, as unknown. Names under a `*` can't be added.
pub fn complete(facts: &mut IndexMap<String, Value>, fields: &IndexMap<String, Field>, records: &Records) {
    for (path, field) in fields {
        let parts: Vec<&str> = path.split('.').collect();
        add_unknown(facts, &parts, field, records);
    }
}

fn add_unknown(facts: &mut IndexMap<String, Value>, path: &[&str], field: &Field, records: &Records) {
    match path {
        [] => {}
        ["*"] => {
            for value in facts.values_mut() {
                complete_record(value, &field.kind, records);
            }
        }
        ["*", rest @ ..] => {
            for value in facts.values_mut() {
                if let Value::Record(inner) = value {
                    add_unknown(inner, rest, field, records);
                }
            }
        }
        [name] => {
            let value = facts.entry((*name).to_owned()).or_insert(Value::Unknown);
            complete_record(value, &field.kind, records);
        }
        [name, rest @ ..] => {
            let inner = facts.entry((*name).to_owned()).or_insert_with(|| Value::Record(IndexMap::new()));
            if let Value::Record(inner) = inner {
                add_unknown(inner, rest, field, records);
            }
        }
    }
}

fn complete_record(value: &mut Value, kind: &FieldKind, records: &Records) {
    let (Value::Record(entries), FieldKind::Record(record)) = (value, kind) else { return };
    for name in records.get(record).into_iter().flat_map(IndexMap::keys) {
        entries.entry(name.clone()).or_insert(Value::Unknown);
    }
}

fn join(prefix: &str, name: &str) -> String {
    if prefix.is_empty() { name.to_owned() } else { format!("{prefix}.{name}") }
}

/// Whether a pattern of the form fits a path, and whether the path is all of it or only its start.
fn fits(pattern: &str, path: &str) -> Option<bool> {
    let pattern: Vec<&str> = pattern.split('.').collect();
    let path: Vec<&str> = path.split('.').collect();
    let start = path.len() <= pattern.len() && pattern.iter().zip(&path).all(|(a, b)| *a == "*" || a == b);
    start.then_some(path.len() == pattern.len())
}

fn level(entries: &[(At<String>, Node)], prefix: &str, against: &Against<'_>, filled: &mut Filled, problems: &mut Problems) {
    for (key, node) in entries {
        let path = join(prefix, &snake(key));
        let exact = against.fields.iter().find(|(pattern, _)| fits(pattern, &path) == Some(true));
        if let Some((_, field)) = exact {
            let value = value(node, field, &path, against, filled, problems);
            put(&mut filled.facts, &path, value);
            continue;
        }
        let inside = against.fields.keys().any(|pattern| fits(pattern, &path) == Some(false));
        match (inside, node.as_map()) {
            (true, Some(inner)) => level(inner, &path, against, filled, problems),
            (true, None) => problems.push(
                Diagnostic::error(Code::M003, &node.head(), format!("`{path}` has fields of its own"))
                    .expected(children_of(against.fields, &path).join(", ")),
            ),
            (false, _) => problems.push(unknown_field(key, &path, prefix, against)),
        }
    }
}

fn children_of(fields: &IndexMap<String, Field>, path: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for pattern in fields.keys() {
        let rest = if path.is_empty() { Some(pattern.as_str()) } else { pattern.strip_prefix(&format!("{path}.")) };
        if let Some(name) = rest.and_then(|rest| rest.split('.').next())
            && !names.iter().any(|known| known == name)
        {
            names.push(name.to_owned());
        }
    }
    names
}

fn unknown_field(key: &At<String>, path: &str, prefix: &str, against: &Against<'_>) -> Diagnostic {
    let names = children_of(against.fields, prefix);
    let near = nearest(&snake(key), names.iter().map(String::as_str)).map(str::to_owned);
    let diagnostic =
        Diagnostic::error(Code::M001, &key.place, format!("the form `{}` has no field `{path}`", against.form));
    match near {
        Some(near) => diagnostic.help(format!("did you mean `{near}`?")),
        None => diagnostic.expected(names.join(", ")).help("add the field to the form, or take the line out"),
    }
}

fn put(facts: &mut IndexMap<String, Value>, path: &str, value: Value) {
    match path.split_once('.') {
        None => {
            facts.insert(path.to_owned(), value);
        }
        Some((first, rest)) => {
            let inner = facts.entry(first.to_owned()).or_insert_with(|| Value::Record(IndexMap::new()));
            if let Value::Record(inner) = inner {
                put(inner, rest, value);
            }
        }
    }
}

fn value(
    node: &Node,
    field: &Field,
    path: &str,
    against: &Against<'_>,
    filled: &mut Filled,
    problems: &mut Problems,
) -> Value {
    let value = of_kind(node, &field.kind, path, against, filled, problems);
    if field.is_implausible(&value)
        && let Some((low, high)) = &field.plausible
    {
        let style = crate::quantity::Style::default();
        problems.push(
            Diagnostic::warning(Code::M004, &node.head(), format!("`{path}` is {}", against.units.show_value(&value, &style)))
                .expected(format!("within {}", against.units.show_range(low, high, &style)))
                .help("look at number and unit again; if it is right, widen `plausible` in the form"),
        );
    }
    value
}

fn of_kind(
    node: &Node,
    kind: &FieldKind,
    path: &str,
    against: &Against<'_>,
    filled: &mut Filled,
    problems: &mut Problems,
) -> Value {
    filled.places.insert(path.to_owned(), node.head());
    if node.as_text() == Some("unknown") {
        return Value::Unknown;
    }
    match kind {
        FieldKind::ListOf(item) => {
            let Some(items) = node.as_list() else { return misfit(node, kind, path, problems) };
            let mut list = Vec::new();
            for (index, item_node) in items.iter().enumerate() {
                list.push(of_kind(item_node, item, &format!("{path}.{}", index + 1), against, filled, problems));
            }
            Value::List(list)
        }
        FieldKind::Record(record) => {
            let (Some(entries), Some(fields)) = (node.as_map(), against.records.get(record)) else {
                return misfit(node, kind, path, problems);
            };
            let mut values = IndexMap::new();
            for (key, entry) in entries {
                let name = snake(key);
                let Some(kind) = fields.get(&name) else {
                    let near = nearest(&name, fields.keys().map(String::as_str));
                    let diagnostic =
                        Diagnostic::error(Code::M001, &key.place, format!("a {record} has no entry `{}`", key.value));
                    problems.push(match near {
                        Some(near) => diagnostic.help(format!("did you mean `{near}`?")),
                        None => diagnostic.expected(fields.keys().cloned().collect::<Vec<_>>().join(", ")),
                    });
                    continue;
                };
                values.insert(name.clone(), of_kind(entry, kind, &join(path, &name), against, filled, problems));
            }
            Value::Record(values)
        }
        _ => match node.as_text() {
            None => misfit(node, kind, path, problems),
            Some(text) => match kind.read(text, against.units) {
                Ok(value) => value,
                Err(fault) => {
                    let expected = kind.described();
                    problems.push(fault.at(&node.head()).expected(expected));
                    Value::Unknown
                }
            },
        },
    }
}

fn misfit(node: &Node, kind: &FieldKind, path: &str, problems: &mut Problems) -> Value {
    problems.push(
        Diagnostic::error(Code::M003, &node.head(), format!("`{path}` does not fit its field"))
            .label(node.described())
            .expected(kind.described()),
    );
    Value::Unknown
}
