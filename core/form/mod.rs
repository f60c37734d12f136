//! Forms: what is to be known of one kind of thing. Families: filled forms, with their variants.

mod family;
mod field;
mod fill;
mod raw;
mod recognise;

use std::sync::Arc;

use indexmap::IndexMap;

pub use family::{Family, Origin, Stated, Variant};
pub use field::{Field, FieldKind};
pub use fill::{Filled, complete, fill};
pub use recognise::{Recognised, recognise};

use crate::diagnostic::{Code, Diagnostic, Problems};
use crate::quantity::Units;
use crate::source::{At, Source};
use crate::yaml;

/// A checked form. Fields are named by dotted paths; `fasteners.*` stands for any name in that place.
#[derive(Clone, Debug, Default)]
pub struct Form {
    pub id: String,
    pub title: String,
    pub fields: IndexMap<String, Field>,
    /// Types of records, by name.
    pub records: Records,
    /// Signs that tell variants apart.
    pub signs: IndexMap<String, Field>,
    /// Facts of one job.
    pub job: IndexMap<String, Field>,
}

pub type Records = IndexMap<String, IndexMap<String, FieldKind>>;

impl Form {
    /// Reads a form; `None` when it can't be used at all.
    pub fn read(source: &Arc<Source>, units: &Units, problems: &mut Problems) -> Option<Form> {
        let raw: raw::RawForm = yaml::read(source, problems)?;
        let names: Vec<String> = raw.records.keys().map(|name| name.value.clone()).collect();
        let mut records = Records::new();
        for (name, fields) in raw.records {
            let fields = fields
                .into_iter()
                .filter_map(|(key, is)| Some((snake(&key.value), FieldKind::parse(&is, &names, units, problems)?)))
                .collect();
            records.insert(name.value, fields);
        }
        let mut check = |fields: IndexMap<At<String>, raw::RawField>| -> IndexMap<String, Field> {
            fields
                .into_iter()
                .filter_map(|(path, raw)| Some((path_of(&path, problems), Field::check(&path, raw, &names, units, problems)?)))
                .collect()
        };
        let (fields, signs, job) = (check(raw.fields), check(raw.recognised_by), check(raw.job));
        Some(Form { id: raw.form.value, title: raw.title.map(|title| title.value).unwrap_or_default(), fields, records, signs, job })
    }

    /// The field of a dotted path, within a record too (`fasteners.pan.torque`).
    pub fn field(&self, path: &str) -> Option<Field> {
        find(&self.fields, &self.records, path)
    }

    pub fn job_field(&self, path: &str) -> Option<Field> {
        find(&self.job, &self.records, path)
    }
}

fn find(fields: &IndexMap<String, Field>, records: &Records, path: &str) -> Option<Field> {
    let parts: Vec<&str> = path.split('.').collect();
    fields.iter().find_map(|(pattern, field)| {
        let pattern: Vec<&str> = pattern.split('.').collect();
        if pattern.len() > parts.len() || !pattern.iter().zip(&parts).all(|(a, b)| *a == "*" || a == b) {
            return None;
        }
        let mut kind = &field.kind;
        for part in &parts[pattern.len()..] {
            let FieldKind::Record(record) = kind else { return None };
            kind = records.get(record)?.get(*part)?;
        }
        Some(Field { kind: kind.clone(), ..field.clone() })
    })
}

/// A name as scripts see it.
pub fn snake(name: &str) -> String {
    name.replace('-', "_")
}

fn path_of(path: &At<String>, problems: &mut Problems) -> String {
    let fine = path.split('.').all(|part| {
        part == "*"
            || (part.starts_with(|c: char| c.is_ascii_lowercase())
                && part.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_' || c == '-'))
    });
    if !fine {
        problems.push(
            Diagnostic::error(Code::M008, &path.place, format!("`{}` is not the name of a field", path.value))
                .expected("small letters, digits and underscores, in parts divided by dots"),
        );
    }
    snake(path)
}
