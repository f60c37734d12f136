//! Values with what is known of their origin.

use std::sync::Arc;

use indexmap::IndexMap;
use serde::Serialize;

use super::source_note::SourceNote;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::value::Value;

/// A record of values, every field of the form in it, absent ones as unknown.
#[derive(Clone, Debug)]
pub struct Facts {
    /// What a script sees as `spec` or `job`.
    pub values: Value,
    /// By path, for every value that somebody wrote down.
    pub origins: IndexMap<String, Origin>,
    /// Paths that are unknown only because the variant is not settled.
    pub differs: Vec<String>,
}

/// Where a value was written, and on what authority.
#[derive(Clone, Debug, Serialize)]
pub struct Origin {
    /// Where it stands.
    pub place: Place,
    /// As it stands in the file.
    pub written: String,
    /// On what authority, where the document says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<Arc<SourceNote>>,
    /// The values that this one stands in for, the nearest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub overrides: Vec<Place>,
}

impl Default for Facts {
    fn default() -> Self {
        Self { values: Value::Record(IndexMap::new()), origins: IndexMap::new(), differs: Vec::new() }
    }
}

impl Facts {
    /// The value of a path such as `body.height`.
    pub fn value(&self, path: &str) -> Option<&Value> {
        let path: Vec<&str> = path.split('.').collect();
        self.values.at(&path)
    }

    /// Where the value of a path comes from; `None` for what nobody wrote.
    pub fn origin(&self, path: &str) -> Option<&Origin> {
        self.origins.get(path)
    }

    /// Whether a value is unknown only as long as nobody has settled the variant.
    pub fn differs_by_variant(&self, path: &str) -> bool {
        self.differs
            .iter()
            .any(|other| super::source_note::is_within(other, path) || super::source_note::is_within(path, other))
    }

    /// Puts a value over whatever was there, and remembers what that was.
    pub fn set(&mut self, path: &str, value: Value, mut origin: Origin) {
        if let Some(earlier) = self.origins.get(path) {
            origin.overrides.push(earlier.place.clone());
            origin.overrides.extend(earlier.overrides.iter().cloned());
        }
        self.origins.insert(path.to_string(), origin);
        self.differs.retain(|other| other != path);
        self.put(path, value);
    }

    pub(super) fn put(&mut self, path: &str, value: Value) {
        let mut record = &mut self.values;
        for part in path.split('.') {
            if !matches!(record, Value::Record(_)) {
                *record = Value::Record(IndexMap::new());
            }
            let Value::Record(fields) = record else { return };
            record = fields.entry(part.to_string()).or_insert(Value::Unknown);
        }
        *record = value;
    }

    /// Every value that is not a record, with its path.
    pub fn leaves(&self) -> Vec<(String, &Value)> {
        fn walk<'a>(path: &str, value: &'a Value, found: &mut Vec<(String, &'a Value)>) {
            match value {
                Value::Record(fields) => {
                    for (name, value) in fields {
                        let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                        walk(&path, value, found);
                    }
                }
                value => found.push((path.to_string(), value)),
            }
        }
        let mut found = Vec::new();
        walk("", &self.values, &mut found);
        found
    }
}
