//! Values written under the fields of a form.

use indexmap::IndexMap;

use super::facts::{Facts, Origin};
use super::field::Field;
use super::source_note::SourceNotes;
use super::{Form, is_group, lookup, snake};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_quantity::Kind;
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_yaml::{At, Node};

/// One value as written.
#[derive(Clone, Debug)]
pub(super) struct Given {
    pub value: Value,
    pub place: Place,
    pub written: String,
    /// What it stands in for in the family.
    pub overrides: Vec<Place>,
    /// Where it was written: in the family, or in one of its variants.
    pub variant: Option<String>,
}

/// Values by path; a record appears as its fields.
pub(super) type Filled = IndexMap<String, Given>;

/// Reads a tree of keys under the fields of a form or of its job section.
pub(super) struct Filling<'a> {
    pub form: &'a Form,
    pub fields: &'a IndexMap<String, Field>,
    pub units: &'a Units,
    pub variant: Option<&'a str>,
    pub problems: &'a mut Problems,
    pub filled: Filled,
    pub tables: Vec<At<String>>,
}

impl Filling<'_> {
    pub(super) fn take<'n>(&mut self, prefix: &str, entries: impl IntoIterator<Item = &'n (At<String>, Node)>) {
        for (key, node) in entries {
            let path = if prefix.is_empty() { snake(key) } else { format!("{prefix}.{}", snake(key)) };
            if let Some(field) = lookup(self.fields, &path).filter(|_| !path.ends_with(".*")) {
                self.field(field, &path, key, node);
            } else if is_group(self.fields, &path) {
                match node.as_map() {
                    Some(entries) => self.take(&path, entries),
                    None => self.problems.push(
                        Diagnostic::error(
                            Code::UnfitValue,
                            &node.head(),
                            format!("`{path}` is a group of fields, not a value"),
                        )
                        .expected(self.below(&path).join(", "))
                        .help(format!("write the fields below `{}:`", key.value)),
                    ),
                }
            } else {
                self.unknown(&path, prefix, key);
            }
        }
    }

    fn field(&mut self, field: &Field, path: &str, key: &At<String>, node: &Node) {
        let Kind::Record(name) = &field.kind else {
            let value = field.read_node(node, self.units, self.problems);
            self.note_tables(&field.kind, node);
            self.insert(path.to_string(), value, node);
            return;
        };
        let Some(record) = self.form.records.get(name) else { return };
        if node.as_text() == Some("unknown") {
            for inner in record.keys() {
                self.insert(format!("{path}.{inner}"), Value::Unknown, node);
            }
            return;
        }
        let Some(entries) = node.as_map() else {
            self.problems.push(
                Diagnostic::error(
                    Code::UnfitValue,
                    &node.head(),
                    format!("expected {}, found {}", field.expected(), node.described()),
                )
                .expected(record.keys().map(String::as_str).collect::<Vec<_>>().join(", "))
                .help(format!("write the fields below `{}:`, or `unknown`", key.value)),
            );
            return;
        };
        for (key, node) in entries {
            match record.get(&snake(key)) {
                Some(inner) => {
                    let value = inner.read_node(node, self.units, self.problems);
                    self.note_tables(&inner.kind, node);
                    self.insert(format!("{path}.{}", inner.path), value, node);
                }
                None => {
                    let known: Vec<&str> = record.keys().map(String::as_str).collect();
                    let problem = Diagnostic::error(
                        Code::UnknownField,
                        &key.place,
                        format!("a `{name}` has no field `{}`", key.value),
                    );
                    self.problems.push(suggest(problem, &snake(key), &known));
                }
            }
        }
    }

    fn insert(&mut self, path: String, value: Value, node: &Node) {
        if let Some(first) = self.filled.get(&path) {
            self.problems.push(
                Diagnostic::error(Code::DuplicateKey, &node.head(), format!("`{path}` is given twice"))
                    .also(&first.place, "first here")
                    .help("keep one of the two"),
            );
            return;
        }
        let given = Given {
            value,
            place: node.place.clone(),
            written: node.place.text().to_string(),
            overrides: Vec::new(),
            variant: self.variant.map(str::to_string),
        };
        self.filled.insert(path, given);
    }

    fn note_tables(&mut self, kind: &Kind, node: &Node) {
        match kind {
            Kind::Table => {
                if let Some(id) = node.as_text().filter(|id| *id != "unknown") {
                    self.tables.push(At::new(id.to_string(), node.text_place()));
                }
            }
            Kind::List(kind) => node.as_list().unwrap_or_default().iter().for_each(|item| self.note_tables(kind, item)),
            _ => {}
        }
    }

    fn unknown(&mut self, path: &str, prefix: &str, key: &At<String>) {
        let known = self.below(prefix);
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        let message = format!("the form `{}` has no field `{path}`", self.form.id);
        let problem = Diagnostic::error(Code::UnknownField, &key.place, message);
        // The right name in the wrong group.
        let elsewhere = self.fields.keys().find(|field| field.rsplit('.').next() == Some(&*snake(key)));
        self.problems.push(match elsewhere {
            Some(field) if nearest(&snake(key), known.iter().copied()).is_none() => {
                problem.help(format!("did you mean `{field}`?"))
            }
            _ => suggest(problem, &snake(key), &known),
        });
    }

    /// The next parts of the paths below a group.
    fn below(&self, group: &str) -> Vec<String> {
        let mut parts: Vec<String> = Vec::new();
        for field in self.fields.keys() {
            let rest = if group.is_empty() {
                Some(field.as_str())
            } else {
                field.strip_prefix(group).and_then(|rest| rest.strip_prefix('.'))
            };
            if let Some(part) = rest.and_then(|rest| rest.split('.').next())
                && !parts.iter().any(|known| known == part)
            {
                parts.push(part.to_string());
            }
        }
        parts
    }
}

fn suggest(problem: Diagnostic, written: &str, known: &[&str]) -> Diagnostic {
    problem.nearest(
        written,
        known.iter().copied(),
        format!("remove it, or add it to the form; known here: {}", known.join(", ")),
    )
}

/// Every field of the form in its order, those that were not filled in as unknown.
pub(super) fn facts(form: &Form, fields: &IndexMap<String, Field>, filled: &Filled, notes: &SourceNotes) -> Facts {
    let mut facts = Facts::default();
    for (path, field) in fields {
        for path in expanded(path, filled) {
            match &field.kind {
                Kind::Record(name) => {
                    for inner in form.records.get(name).into_iter().flat_map(IndexMap::keys) {
                        put(&mut facts, &format!("{path}.{inner}"), filled, notes);
                    }
                }
                _ => put(&mut facts, &path, filled, notes),
            }
        }
        // A group of any names is there even if it is empty.
        if let Some(group) = path.strip_suffix(".*")
            && facts.value(group).is_none()
        {
            facts.put(group, Value::Record(IndexMap::new()));
        }
    }
    facts
}

fn put(facts: &mut Facts, path: &str, filled: &Filled, notes: &SourceNotes) {
    let given = filled.get(path);
    facts.put(path, given.map_or(Value::Unknown, |given| given.value.clone()));
    if let Some(given) = given {
        let origin = Origin {
            place: given.place.clone(),
            written: given.written.clone(),
            source: notes.of(path, given.variant.as_deref()),
            overrides: given.overrides.clone(),
        };
        facts.origins.insert(path.to_string(), origin);
    }
}

/// `weights.*` as the names that were written.
pub(super) fn expanded(path: &str, filled: &Filled) -> Vec<String> {
    let Some(group) = path.strip_suffix('*') else { return vec![path.to_string()] };
    let mut paths: Vec<String> = Vec::new();
    for written in filled.keys() {
        if let Some(name) = written.strip_prefix(group).and_then(|rest| rest.split('.').next()) {
            let path = format!("{group}{name}");
            if !paths.contains(&path) {
                paths.push(path);
            }
        }
    }
    paths
}

/// Paths of required fields that were not filled in.
pub(super) fn missing<'a>(
    form: &'a Form,
    fields: &'a IndexMap<String, Field>,
    filled: &Filled,
) -> Vec<(String, &'a Field)> {
    let mut missing = Vec::new();
    for (path, field) in fields {
        for path in expanded(path, filled) {
            match &field.kind {
                Kind::Record(name) => {
                    let record = form.records.get(name);
                    let given = |path: &str| filled.keys().any(|key| super::source_note::is_within(key, path));
                    if field.required && !given(&path) {
                        missing.push((path.clone(), field));
                    } else if given(&path) {
                        for (inner, field) in record.into_iter().flatten() {
                            let path = format!("{path}.{inner}");
                            if field.required && !filled.contains_key(&path) {
                                missing.push((path, field));
                            }
                        }
                    }
                }
                _ if field.required && !filled.contains_key(&path) => missing.push((path, field)),
                _ => {}
            }
        }
    }
    missing
}
