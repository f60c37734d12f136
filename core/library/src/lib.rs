#![doc = include_str!("../README.md")]

mod act;
mod disk;
mod document;
mod files;
mod index;
mod instrument;
mod kind;
mod layer;
mod manifest;
mod needs;
mod shop;
mod snapshot;
mod text;
mod typed;

#[cfg(test)]
mod tests;

use std::path::PathBuf;
use std::sync::Arc;

use indexmap::IndexMap;

pub use act::Act;
pub use document::Document;
pub use files::{File, Files, STANDARD};
pub use instrument::{Accuracy, Instrument, LogMapping};
pub use kind::Kind;
pub use layer::Layer;
pub use manifest::{Plugin, schema as plugin_schema};
pub use shop::{Person, Shop, schema as shop_schema};
pub use text::read_file;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_yaml::At;

/// Everything that plugins contribute.
#[derive(Debug)]
pub struct Library {
    /// In the order in which they lie over one another.
    pub plugins: IndexMap<String, Plugin>,
    index: index::Index,
    files: Files,
}

impl Library {
    /// Faulty plugins are reported and left out, and so are those that need them.
    pub fn load(files: Files, problems: &mut Problems) -> Self {
        let (plugins, left_out) = manifests(&files, problems);
        let plugins = needs::settle(plugins, &left_out, problems);
        let mut index = index::Index::default();
        index.add_standard(files.of(STANDARD), problems);
        for plugin in plugins.values() {
            let own = files.of(&plugin.id).filter(|file| file.layer == plugin.layer);
            index.add_plugin(plugin, own, problems);
        }
        Self { plugins, index, files }
    }

    /// All documents of one kind, those that were overridden left out.
    pub fn documents(&self, kind: Kind) -> impl Iterator<Item = &Arc<Document>> {
        let exclusive = self.index.exclusive.values().filter(move |document| document.kind == kind);
        exclusive.chain(self.index.shared.iter().filter(move |document| document.kind == kind))
    }

    /// The document that an id stands for; for units, scripts and cases the first of that name.
    pub fn document(&self, kind: Kind, id: &str) -> Option<&Arc<Document>> {
        if kind.is_exclusive() {
            self.index.exclusive.get(&(kind, id.to_string()))
        } else {
            self.documents(kind).find(|document| document.id == id)
        }
    }

    /// The document that a file or an argument names, or a message at that place.
    pub fn find(&self, kind: Kind, id: &At<String>, problems: &mut Problems) -> Option<&Arc<Document>> {
        let found = self.document(kind, id);
        if found.is_none() {
            problems.push(self.absent(kind, &id.value, &id.place));
        }
        found
    }

    fn absent(&self, kind: Kind, id: &str, place: &Place) -> Diagnostic {
        let known: Vec<&str> = self.documents(kind).map(|document| document.id.as_str()).collect();
        let problem =
            Diagnostic::error(Code::UnknownReference, place, format!("there is no {kind} `{id}`")).speaks_of(id);
        if let (Kind::Family, Some((family, variant))) = (kind, id.split_once('/')) {
            let known = nearest(family, known.iter().copied()).unwrap_or(family);
            return problem
                .help(format!("write `family: {known}`, and `variant: {variant}` where it is known already"));
        }
        let otherwise = match known.len() {
            0 => format!("there is no {kind} in any plugin in use; name a folder of plugins with --plugins"),
            1..=12 => format!("known here: {}", known.join(", ")),
            _ => format!("`standpipe show {kind}` lists all that are known"),
        };
        problem.nearest(id, known, otherwise)
    }

    /// All texts that it was loaded from.
    pub fn files(&self) -> &Files {
        &self.files
    }

    /// A file of a plugin by its path, whether it is a document or not.
    pub fn file(&self, plugin: &str, path: &str) -> Option<&File> {
        let layer = self.plugins.get(plugin)?.layer;
        self.files.list.iter().find(|file| file.plugin == plugin && file.layer == layer && file.path == path)
    }

    /// All files of a plugin in the folder of a kind.
    pub fn files_in<'a>(&'a self, plugin: &'a str, kind: Kind) -> impl Iterator<Item = &'a File> {
        let layer = self.plugins.get(plugin).map(|plugin| plugin.layer);
        let inside = move |path: &str| path.strip_prefix(kind.folder()).is_some_and(|rest| rest.starts_with('/'));
        self.files.of(plugin).filter(move |file| Some(file.layer) == layer && inside(&file.path))
    }

    /// Where the text of a place lies on this machine, if it came from a folder.
    pub fn path_of(&self, place: &Place) -> Option<PathBuf> {
        let (plugin, path) = place.name().split_once('/')?;
        let roots = self.files.folders.iter().filter(|(id, _)| id == plugin);
        let paths: Vec<PathBuf> = roots.map(|(_, root)| root.join(path)).filter(|path| path.exists()).collect();
        // Where two folders have the name, the text tells.
        let same =
            |path: &&PathBuf| standpipe_disk::text(path, text::LARGEST).is_ok_and(|text| text == place.source().text);
        paths.iter().find(same).or_else(|| paths.first()).cloned()
    }
}

fn manifests(files: &Files, problems: &mut Problems) -> (Vec<Plugin>, Vec<String>) {
    let mut plugins: Vec<Plugin> = Vec::new();
    let mut left_out = Vec::new();
    let mut seen: Vec<(&str, Layer)> = Vec::new();
    for file in &files.list {
        if file.plugin == STANDARD && file.layer == Layer::BuiltIn || seen.contains(&(&file.plugin, file.layer)) {
            continue;
        }
        seen.push((&file.plugin, file.layer));
        let manifest = files.of(&file.plugin).find(|other| other.layer == file.layer && other.path == "plugin.yaml");
        let Some(manifest) = manifest else {
            problems.push(
                Diagnostic::error(
                    Code::NoManifest,
                    &Place::whole(&file.source),
                    format!("the plugin `{}` has no plugin.yaml", file.plugin),
                )
                .help("write one with `plugin:`, `version:` and `plugins:`"),
            );
            left_out.push(file.plugin.clone());
            continue;
        };
        match manifest::read(&manifest.source, &file.plugin, file.layer, problems) {
            None => left_out.push(file.plugin.clone()),
            Some(plugin) if plugin.id == STANDARD => {
                problems.push(
                    Diagnostic::error(
                        Code::DuplicatePlugin,
                        &plugin.place,
                        format!("`{STANDARD}` is the name of the scripts that all plugins share"),
                    )
                    .help("give the plugin another name"),
                );
            }
            Some(plugin) => match plugins.iter().find(|other| other.id == plugin.id) {
                Some(first) => problems.push(
                    Diagnostic::error(
                        Code::DuplicatePlugin,
                        &plugin.place,
                        format!("a second plugin `{}`, from {}", plugin.id, plugin.layer),
                    )
                    .label("left out")
                    .also(&first.place, format!("the first, from {}", first.layer))
                    .help(
                        "give one of them another name; to change a plugin, write another that overrides parts of it",
                    ),
                ),
                None => plugins.push(plugin),
            },
        }
    }
    (plugins, left_out)
}
