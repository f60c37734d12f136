//! Where a new file goes: into a plugin of its own, or into one that is there.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::Fault;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::plan::typed;
use standpipe_library::Kind;
use standpipe_yaml as yaml;

/// The folder of a plugin that may not be there yet.
pub struct Folder {
    pub path: PathBuf,
    /// Id of the plugin.
    pub id: String,
    is_new: bool,
    written: Vec<PathBuf>,
}

impl Folder {
    /// `--into` names the folder in which the plugin is made, or a plugin that takes the file as one more.
    pub fn new(id: &str, into: Option<&Path>) -> Result<Self, Fault> {
        let sound = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit());
        if !id.split('-').all(sound) || !id.starts_with(|c: char| c.is_ascii_lowercase()) {
            let at = typed("<ID>", id);
            return Err(Box::new(
                Diagnostic::error(Code::MisplacedId, &at.place, format!("`{id}` can't be an id"))
                    .expected("lower-case letters, digits and hyphens, a letter first")
                    .help("for example `our-own-steps`"),
            ));
        }
        let into = into.unwrap_or(Path::new(""));
        if into.join("plugin.yaml").exists() {
            let real = fs::canonicalize(into).unwrap_or_else(|_| into.to_owned());
            let id = real.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            return Ok(Self { path: into.to_owned(), id, is_new: false, written: Vec::new() });
        }
        Ok(Self { path: into.join(id), id: id.to_owned(), is_new: true, written: Vec::new() })
    }

    /// Writes the files, each under the folder of its kind, and the manifest if the plugin is new. Nothing that is there
    /// is written over.
    pub fn write(&mut self, title: &str, needs: &[&str], files: &[(Kind, &str, String)]) -> Result<(), Fault> {
        let named = files.iter().map(|(kind, id, text)| (*kind, format!("{id}.{}", kind.extension()), text.clone()));
        self.write_named(title, needs, &named.collect::<Vec<_>>())
    }

    /// The same, with names of files.
    pub fn write_named(&mut self, title: &str, needs: &[&str], files: &[(Kind, String, String)]) -> Result<(), Fault> {
        let mut all: Vec<(PathBuf, String)> = Vec::new();
        if self.is_new {
            let text = fill(
                include_str!("templates/plugin.yaml"),
                &[("folder", &self.id), ("title", title), ("needs", &needs.join(", "))],
            );
            all.push((self.path.join("plugin.yaml"), text));
        }
        for (kind, name, text) in files {
            all.push((self.path.join(kind.folder()).join(name), text.clone()));
        }
        for (path, _) in &all {
            if path.exists() {
                let at = typed("<ID>", &path.display().to_string());
                return Err(Box::new(
                    Diagnostic::error(Code::Unwritable, &at.place, format!("{} is there already", path.display()))
                        .help("choose another id, or another folder with --into"),
                ));
            }
        }
        for (path, text) in all {
            create(&path, &text).map_err(|fault| {
                let at = typed("<ID>", &path.display().to_string());
                Box::new(
                    Diagnostic::error(
                        Code::Unwritable,
                        &at.place,
                        format!("{} can't be written: {fault}", path.display()),
                    )
                    .help("choose another folder with --into"),
                )
            })?;
            self.written.push(path);
        }
        Ok(())
    }

    pub fn written(&self) -> &[PathBuf] {
        &self.written
    }

    /// What is still to be said in the manifest of a plugin that was there before.
    pub fn lacks<'a>(&self, needs: &[&'a str]) -> Vec<&'a str> {
        let manifest = standpipe_disk::text(&self.path.join("plugin.yaml"), standpipe_disk::TEXT).unwrap_or_default();
        let source = standpipe_diagnostic::source::Source::new("plugin.yaml", manifest);
        let root = yaml::parse(&source, &mut Vec::new());
        let named =
            root.as_ref().and_then(|root| root.get("plugins")).and_then(yaml::Node::as_list).unwrap_or_default();
        let has = |id: &str| id == self.id || named.iter().any(|need| need.as_text() == Some(id));
        needs.iter().copied().filter(|need| !has(need)).collect()
    }
}

fn create(path: &Path, text: &str) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    standpipe_disk::create(path)?.write_all(text.as_bytes())
}

/// A template with what stands for each `@name@`.
pub fn fill(template: &str, with: &[(&str, &str)]) -> String {
    let mut text = template.to_owned();
    for (name, value) in with {
        text = text.replace(&format!("@{name}@"), value);
    }
    text
}

/// `our-own-steps` as a title.
pub fn titled(id: &str) -> String {
    let words = id.replace('-', " ");
    let mut letters = words.chars();
    letters.next().map_or(words.clone(), |first| format!("{}{}", first.to_uppercase(), letters.as_str()))
}
