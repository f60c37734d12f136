//! One document of a plugin, as text.

use std::sync::Arc;

use super::kind::Kind;
use super::layer::Layer;
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_yaml as yaml;

/// One document of a plugin, as yet unread.
#[derive(Clone, Debug)]
pub struct Document {
    /// What it is.
    pub kind: Kind,
    /// The stem of its file.
    pub id: String,
    /// Id of the plugin that it belongs to.
    pub plugin: String,
    /// The layer of that plugin.
    pub layer: Layer,
    /// Its text.
    pub source: Arc<Source>,
    /// The document that this one replaces, which may itself have replaced one.
    pub overrides: Option<Arc<Document>>,
}

impl Document {
    /// The place to point at for the document as a whole: its id.
    pub fn place(&self) -> Place {
        let key = self.kind.name();
        let start = match self.source.text.lines().next() {
            Some(line) if line.starts_with(key) => Some(0),
            _ => self.source.text.find(&format!("\n{key}:")).map(|at| at + 1),
        };
        match start {
            Some(start) => {
                let line = self.source.text[start..].lines().next().unwrap_or("");
                Place::new(&self.source, start..start + line.len())
            }
            None => Place::whole(&self.source),
        }
    }

    /// Its title, where it is of a kind that has one.
    pub fn title(&self) -> Option<String> {
        let root = (self.kind.extension() == "yaml").then(|| yaml::parse(&self.source, &mut Problems::new()))??;
        root.get("title").and_then(yaml::Node::as_text).map(str::to_owned)
    }

    /// Whether the document says that it replaces another.
    pub(super) fn says_override(&self) -> bool {
        // Parsing every file to learn this would cost more than all else at start-up.
        if !self.source.text.contains("override") {
            return false;
        }
        match self.kind {
            Kind::Table => self.source.text.lines().take_while(|line| line.starts_with('#')).any(|line| {
                let line: String = line.split_whitespace().collect();
                line == "#override:true"
            }),
            _ => yaml::parse(&self.source, &mut Problems::new())
                .is_some_and(|root| root.get("override").and_then(yaml::Node::as_text) == Some("true")),
        }
    }
}
