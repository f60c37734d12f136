#![doc = include_str!("../README.md")]

mod completeness;
mod facts;
mod family;
mod field;
mod filling;
mod job;
mod raw;
mod raw_family;
mod recognise;
mod relation;
mod schema;
mod sign;
mod source_note;
mod variant;
mod written;

#[cfg(test)]
mod tests;

use indexmap::IndexMap;

pub use facts::{Facts, Origin};
pub use family::Family;
pub use field::{Field, Unfit};
pub use raw_family::RawFamily;
pub use recognise::{Recognised, recognise};
pub use relation::Relation;
pub use schema::{family_schema, form_schema, job_schema};
pub use sign::SignValue;
pub use source_note::SourceNote;
pub use standpipe_quantity::Kind;
pub use variant::Variant;
pub use written::{WrittenValue, written_values};

use standpipe_diagnostic::source::Place;

/// A checked form.
#[derive(Clone, Debug)]
pub struct Form {
    /// What it is called by.
    pub id: String,
    /// What people call it.
    pub title: Option<String>,
    /// It is not from the real world.
    pub invented: bool,
    /// Kinds of records, each with its fields.
    pub records: IndexMap<String, IndexMap<String, Field>>,
    /// What a family fills in, by path.
    pub fields: IndexMap<String, Field>,
    /// What variants are told apart by.
    pub signs: IndexMap<String, Field>,
    /// The facts of one job.
    pub job: IndexMap<String, Field>,
    /// Paths of the facts of a job by which people call what it is about.
    pub subject: Vec<String>,
    /// What has to hold between the values of each family.
    pub relations: Vec<Relation>,
    /// Where its id stands.
    pub place: Place,
}

impl Form {
    /// The field of a path such as `body.height`, `weights.going` or `weights.going.mass`.
    pub fn field(&self, path: &str) -> Option<&Field> {
        lookup(&self.fields, path).or_else(|| {
            let (outer, inner) = path.rsplit_once('.')?;
            match &lookup(&self.fields, outer)?.kind {
                Kind::Record(name) => self.records.get(name)?.get(inner),
                _ => None,
            }
        })
    }

    /// The field of a fact of the job.
    pub fn job_field(&self, path: &str) -> Option<&Field> {
        self.job.get(path)
    }

    /// Whether some field lies below a path: `body` is a group, `body.height` is not.
    pub fn is_group(&self, path: &str) -> bool {
        is_group(&self.fields, path)
    }
}

/// `weights.going` is found under `weights.*`.
fn lookup<'a>(fields: &'a IndexMap<String, Field>, path: &str) -> Option<&'a Field> {
    fields.get(path).or_else(|| {
        let (group, _) = path.rsplit_once('.')?;
        fields.get(&format!("{group}.*"))
    })
}

fn is_group(fields: &IndexMap<String, Field>, path: &str) -> bool {
    fields.keys().any(|field| field.strip_prefix(path).is_some_and(|rest| rest.starts_with('.')))
}

/// Names as scripts see them.
pub fn snake(name: &str) -> String {
    name.replace('-', "_")
}
