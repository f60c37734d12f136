//! A new job: what its file says. Whoever asks the questions of its form, at a terminal or a page, writes it with this.

use std::io::{self, ErrorKind, Write};
use std::path::{Component, Path, PathBuf};

use indexmap::IndexMap;

use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::{Family, Form};
use standpipe_job::plan::{Parsed, typed};
use standpipe_quantity::value::Value;
use standpipe_yaml as yaml;

type Fault = Box<Diagnostic>;

/// Whose questions are asked: a family, and its variant where that is known already.
pub struct JobKind {
    pub form: Form,
    pub family: Family,
    pub variant: Option<String>,
}

impl JobKind {
    /// `named`: FAMILY or FAMILY/VARIANT.
    ///
    /// Errors: there is none of that name, or it can't be used.
    pub fn of(parsed: &Parsed, named: &str) -> Result<Self, Fault> {
        let (id, variant) = match named.split_once('/') {
            Some((id, variant)) => (id, Some(variant)),
            None => (named, None),
        };
        let at = typed("<FAMILY>", id);
        let mut problems = Problems::new();
        let unusable = || Diagnostic::error(Code::UnknownReference, &at.place, format!("`{id}` can't be used"));
        let found = parsed.family(&at, &mut problems);
        let (form, family) = found.ok_or_else(|| Box::new(problems.pop().unwrap_or_else(unusable)))?;
        if let Some(variant) = variant.filter(|variant| !family.variants.contains_key(*variant)) {
            let at = typed("<FAMILY>", variant);
            return Err(Box::new(
                Diagnostic::error(Code::UnknownReference, &at.place, format!("`{id}` has no variant `{variant}`"))
                    .expected(family.variants.keys().cloned().collect::<Vec<_>>().join(", ")),
            ));
        }
        Ok(Self { form, family, variant: variant.map(str::to_owned) })
    }
}

pub struct NewJob<'a> {
    pub id: &'a str,
    pub kind: &'a JobKind,
    pub procedure: &'a str,
    /// The shop's file.
    pub shop: Option<&'a Path>,
    /// What is known of the job; every other question of the form stays unknown.
    pub known: IndexMap<String, String>,
}

impl NewJob<'_> {
    /// Why a text can't be the number of a job.
    pub fn number(id: &str) -> Result<(), Fault> {
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
        if !id.is_empty() && !id.starts_with('.') && id.chars().all(plain) {
            return Ok(());
        }
        let at = typed("<ID>", id);
        Err(Box::new(
            Diagnostic::error(Code::WrongArguments, &at.place, format!("`{id}` can't be the number of a job"))
                .expected("letters, digits, hyphens, underscores and dots: folders are named after it"),
        ))
    }

    /// Questions that somebody has to know the answer to, and nobody gave.
    pub fn unknown(&self) -> Vec<String> {
        let open = self.kind.form.job.iter().filter(|(path, field)| field.required && !self.known.contains_key(*path));
        open.map(|(path, _)| path.clone()).collect()
    }

    /// Whether a file of that name can be written, before anybody is asked for what stands in it.
    pub fn free(path: &Path) -> Result<(), Fault> {
        if path.exists() { Err(unwritten(path, &ErrorKind::AlreadyExists.into())) } else { Ok(()) }
    }

    /// Writes its file; nothing that is there is written over.
    pub fn write(&self, path: &Path) -> Result<(), Fault> {
        let written = standpipe_disk::create(path).and_then(|mut file| file.write_all(self.text(path).as_bytes()));
        written.map_err(|fault| unwritten(path, &fault))
    }

    /// `path`: where it will lie.
    fn text(&self, path: &Path) -> String {
        let (family, variant) = (&self.kind.family, &self.kind.variant);
        let mut text = String::from("# A job. `standpipe card` shows what it needs, `standpipe run` runs it.\n");
        text.push_str(&line("job", self.id));
        if family.invented {
            text.push_str("invented: true\n");
        }
        text.push_str(&line("family", &family.id));
        match variant {
            Some(variant) => text.push_str(&line("variant", variant)),
            None if !family.variants.is_empty() => text.push_str("# the variant is recognised by what is seen\n"),
            None => {}
        }
        text.push_str(&line("procedure", self.procedure));
        if let Some(shop) = self.shop {
            text.push_str(&line("shop", &from_beside(path, shop).display().to_string()));
        }
        let mut tree = Value::Record(IndexMap::new());
        for path in self.kind.form.job.keys() {
            put(&mut tree, path, self.known.get(path).map_or("unknown", String::as_str));
        }
        text.push_str(&yaml::write(&Plain(&tree)).unwrap_or_default());
        text
    }
}

fn unwritten(path: &Path, fault: &io::Error) -> Fault {
    let here = typed("<ID>", &path.display().to_string());
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    let (message, help) = match fault.kind() {
        ErrorKind::AlreadyExists => (format!("{name} is there already"), "choose another number, or another place"),
        _ => (format!("{name} can't be written: {fault}"), "choose another place"),
    };
    Box::new(Diagnostic::error(Code::UnreadableFile, &here.place, message).help(help))
}

/// A path as it is called from where another file lies, so that both can be moved together.
fn from_beside(file: &Path, to: &Path) -> PathBuf {
    let (Ok(file), Ok(to)) = (std::path::absolute(file), std::path::absolute(to)) else { return to.to_owned() };
    let folder = file.parent().unwrap_or(&file);
    let shared = folder.components().zip(to.components()).take_while(|(one, other)| one == other).count();
    // With nothing in common but the root, whoever wrote it meant that very place.
    if shared < 2 {
        return to;
    }
    let up = folder.components().skip(shared).map(|_| Component::ParentDir);
    up.chain(to.components().skip(shared)).collect()
}

fn line(key: &str, value: &str) -> String {
    let pair = IndexMap::from([(key, value)]);
    // A map of two texts can always be written.
    yaml::write(&pair).unwrap_or_default()
}

/// Dotted paths as nested maps.
fn put(tree: &mut Value, path: &str, value: &str) {
    let Value::Record(fields) = tree else { return };
    match path.split_once('.') {
        None => {
            fields.insert(path.to_owned(), Value::Text(value.to_owned()));
        }
        Some((first, rest)) => {
            put(fields.entry(first.to_owned()).or_insert_with(|| Value::Record(IndexMap::new())), rest, value);
        }
    }
}

/// Records and texts as plain YAML, without the names that a value carries in a journal.
struct Plain<'a>(&'a Value);

impl serde::Serialize for Plain<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            Value::Record(fields) => serializer.collect_map(fields.iter().map(|(name, value)| (name, Plain(value)))),
            Value::Text(text) => serializer.serialize_str(text),
            _ => serializer.serialize_none(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_can_name_a_folder() {
        for fits in ["2026-1101", "a", "x_1.b"] {
            assert!(NewJob::number(fits).is_ok(), "{fits}");
        }
        for unfit in ["", ".", "..", ".hidden", "a/b", "a b", "ä"] {
            assert!(NewJob::number(unfit).is_err(), "{unfit}");
        }
    }
}
