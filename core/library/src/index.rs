//! Which document stands for an id, where several layers have one.

use std::sync::Arc;

use indexmap::IndexMap;

use super::document::Document;
use super::files::{File, STANDARD};
use super::kind::Kind;
use super::manifest::{Plugin, is_kebab, is_snake};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};

#[derive(Debug, Default)]
pub(super) struct Index {
    pub exclusive: IndexMap<(Kind, String), Arc<Document>>,
    pub shared: Vec<Arc<Document>>,
}

impl Index {
    pub(super) fn add_plugin<'a>(
        &mut self,
        plugin: &Plugin,
        files: impl Iterator<Item = &'a File>,
        problems: &mut Problems,
    ) {
        for file in files.filter(|file| file.path != "plugin.yaml") {
            if let Some(document) = as_document(file, problems) {
                self.add(document, plugin, problems);
            }
        }
    }

    pub(super) fn add_standard<'a>(&mut self, files: impl Iterator<Item = &'a File>, problems: &mut Problems) {
        for file in files.filter(|file| file.path.ends_with(".rhai")) {
            let file = File { path: format!("scripts/{}", file.path), ..file.clone() };
            self.shared.extend(as_document(&file, problems).map(Arc::new));
        }
    }

    fn add(&mut self, mut document: Document, plugin: &Plugin, problems: &mut Problems) {
        if !document.kind.is_exclusive() {
            self.shared.push(Arc::new(document));
            return;
        }
        let key = (document.kind, document.id.clone());
        let replaces = document.says_override();
        match self.exclusive.get(&key) {
            None if replaces => {
                let others =
                    self.exclusive.keys().filter(|(kind, _)| *kind == document.kind).map(|(_, id)| id.as_str());
                let help = match nearest(&document.id, others) {
                    Some(near) => format!("did you mean `{near}`? Its file must then be called so too"),
                    None => "remove `override: true`, or name the plugin of what it replaces in its `plugins:`".into(),
                };
                let message = format!("there is no {} `{}` that this could override", document.kind, document.id);
                problems
                    .push(Diagnostic::error(Code::OverridesNothing, &override_place(&document), message).help(help));
            }
            Some(earlier) if !replaces => {
                let message = format!(
                    "the {} `{}` is there already, in the plugin `{}`",
                    document.kind, document.id, earlier.plugin
                );
                problems.push(
                    Diagnostic::error(Code::DefinedTwice, &document.place(), message)
                        .label(format!("again in `{}`", plugin.id))
                        .also(&earlier.place(), format!("first in `{}`", earlier.plugin))
                        .help("write `override: true` if it is to replace the other, or give it another name"),
                );
            }
            earlier => {
                document.overrides = earlier.cloned();
                self.exclusive.insert(key, Arc::new(document));
            }
        }
    }
}

fn override_place(document: &Document) -> Place {
    let text = &document.source.text;
    let start = text.lines().scan(0, |at, line| {
        let start = *at;
        *at += line.len() + 1;
        Some((start, line))
    });
    let found = start.into_iter().find(|(_, line)| line.trim_start_matches(['#', ' ']).starts_with("override"));
    found.map_or_else(|| document.place(), |(start, line)| Place::new(&document.source, start..start + line.len()))
}

fn as_document(file: &File, problems: &mut Problems) -> Option<Document> {
    let (folder, name) = file.path.split_once('/')?;
    let kind = Kind::ALL.into_iter().find(|kind| kind.folder() == folder)?;
    let place = Place::whole(&file.source);
    let (stem, extension) = name.rsplit_once('.').unwrap_or((name, ""));
    if extension != kind.extension() {
        // Notes and licences may lie anywhere.
        if !matches!(extension, "md" | "txt" | "") {
            problems.push(
                Diagnostic::warning(Code::StrayFile, &place, format!("nothing reads `{}`", file.path))
                    .expected(format!("files that end in .{} in this folder", kind.extension()))
                    .help(format!("rename it to `{stem}.{}`, or move it", kind.extension())),
            );
        }
        return None;
    }
    let (sound, expected) = match kind {
        Kind::Script => (is_snake(stem), "lower-case letters, digits and `_`, a letter first"),
        _ => (is_kebab(stem), "lower-case letters, digits and hyphens"),
    };
    if !sound {
        problems.push(
            Diagnostic::error(Code::MisplacedId, &place, format!("`{stem}` can't be the name of a {kind}"))
                .expected(expected)
                .help("rename the file, and the id in it"),
        );
        return None;
    }
    let plugin = file.plugin.clone();
    debug_assert!(kind == Kind::Script || plugin != STANDARD);
    Some(Document { kind, id: stem.into(), plugin, layer: file.layer, source: file.source.clone(), overrides: None })
}
