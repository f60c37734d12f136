//! The texts a library is made of, whether they come from the program, from folders or from a snapshot.

use std::path::PathBuf;
use std::sync::Arc;

use include_dir::Dir;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::layer::Layer;
use standpipe_diagnostic::source::Source;
use standpipe_embedded::{PLUGINS, SCRIPTS};

/// Stands where a plugin's id stands for the scripts that every plugin may use.
pub const STANDARD: &str = "scripts";

/// One text of a plugin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct File {
    /// Where it came from.
    pub layer: Layer,
    /// Id of the plugin: the name of its folder.
    pub plugin: String,
    /// Within the plugin, with `/`: `families/heron.yaml`.
    pub path: String,
    /// Its text.
    #[serde(rename = "text", serialize_with = "write_text", deserialize_with = "read_text")]
    pub source: Arc<Source>,
}

impl File {
    /// A file of a plugin at a path inside it.
    pub fn new(layer: Layer, plugin: &str, path: &str, text: impl Into<String>) -> Self {
        let source = Source::new(format!("{plugin}/{path}"), text);
        Self { layer, plugin: plugin.into(), path: path.into(), source }
    }
}

fn write_text<S: Serializer>(source: &Arc<Source>, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&source.text)
}

/// The name follows from plugin and path and is set once the whole file is there.
fn read_text<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Arc<Source>, D::Error> {
    Ok(Source::new("", String::deserialize(deserializer)?))
}

/// What [`Library::load`](super::Library::load) is given.
#[derive(Clone, Debug, Default, Serialize)]
#[serde(transparent)]
pub struct Files {
    /// All files, those of earlier layers first.
    pub list: Vec<File>,
    /// Folders that were read, so that one named twice is read once, and a file can be found again on the disk.
    #[serde(skip)]
    pub(super) folders: Vec<(String, PathBuf)>,
}

impl<'de> Deserialize<'de> for Files {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let list = Vec::<File>::deserialize(deserializer)?;
        let named = list.into_iter().map(|file| File::new(file.layer, &file.plugin, &file.path, &*file.source.text));
        Ok(Self { list: named.collect(), folders: Vec::new() })
    }
}

impl Files {
    /// The plugins and scripts that are part of the program.
    pub fn built_in() -> Self {
        let mut files = Self::default();
        for plugin in PLUGINS.dirs() {
            let id = plugin.path().to_string_lossy().into_owned();
            files.embed(plugin, &id, &format!("{id}/"));
        }
        files.embed(&SCRIPTS, STANDARD, "");
        files.list.sort_by(|a, b| (&a.plugin, &a.path).cmp(&(&b.plugin, &b.path)));
        files
    }

    fn embed(&mut self, dir: &Dir<'_>, plugin: &str, prefix: &str) {
        for file in dir.files() {
            // A path as it was on the machine that built the program may have `\` in it.
            let path = file.path().to_string_lossy().replace('\\', "/");
            let path = path.strip_prefix(prefix).unwrap_or(&path);
            if let Some(text) = file.contents_utf8() {
                self.list.push(File::new(Layer::BuiltIn, plugin, path, text));
            }
        }
        for inner in dir.dirs() {
            self.embed(inner, plugin, prefix);
        }
    }

    /// Files of one plugin.
    pub fn of<'a>(&'a self, plugin: &'a str) -> impl Iterator<Item = &'a File> {
        self.list.iter().filter(move |file| file.plugin == plugin)
    }
}
