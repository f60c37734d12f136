//! Plugins from folders. What a folder holds is somebody's, and is read with care: nothing outside a plugin's own folder,
//! nothing huge, nothing that is not text.

use std::fs;
use std::path::{Path, PathBuf};

use super::Library;
use super::files::{File, Files};
use super::kind::Kind;
use super::layer::Layer;
use super::text::{read_text, unreadable};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};

const MOST_FILES: usize = 5000;

impl Files {
    /// Adds a folder of plugins, or the folder of one plugin.
    pub fn add_folder(&mut self, folder: &Path, layer: Layer, problems: &mut Problems) {
        let here = Place::whole(&Source::new(folder.display().to_string(), ""));
        let root = match fs::canonicalize(folder) {
            Ok(root) => root,
            Err(fault) => {
                problems.push(unreadable(&here, &folder.display().to_string(), &fault));
                return;
            }
        };
        if root.join("plugin.yaml").exists() {
            self.add_plugin(&root, layer, problems);
            return;
        }
        let inner: Vec<PathBuf> = match entries(&root) {
            Ok(entries) => entries.into_iter().filter(|path| path.join("plugin.yaml").exists()).collect(),
            Err(fault) => {
                problems.push(unreadable(&here, &folder.display().to_string(), &fault));
                return;
            }
        };
        if inner.is_empty() {
            problems.push(
                Diagnostic::error(Code::NoManifest, &here, format!("no plugin in {}", folder.display()))
                    .expected("a folder with a plugin.yaml, or a folder of such folders")
                    .help("give another folder, or write a plugin.yaml into this one"),
            );
        }
        for plugin in inner {
            // The folder of a plugin may itself be a link; what is inside may not lead out of it.
            match fs::canonicalize(&plugin) {
                Ok(root) => self.add_plugin(&root, layer, problems),
                Err(fault) => problems.push(unreadable(&here, &plugin.display().to_string(), &fault)),
            }
        }
    }

    /// As [`Self::add_folder`], but a plugin with the name of a built-in one takes its place.
    pub fn stand_in(&mut self, folder: &Path, layer: Layer, problems: &mut Problems) {
        let before = self.folders.len();
        self.add_folder(folder, layer, problems);
        let added: Vec<String> = self.folders[before..].iter().map(|(id, _)| id.clone()).collect();
        self.list.retain(|file| file.layer != Layer::BuiltIn || !added.contains(&file.plugin));
    }

    fn add_plugin(&mut self, root: &Path, layer: Layer, problems: &mut Problems) {
        if self.folders.iter().any(|(_, known)| known == root) {
            return;
        }
        let id = root.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        self.folders.push((id.clone(), root.to_path_buf()));
        let mut plugin = PluginFolder { root, id: &id, layer, problems, files: Vec::new(), full: false };
        plugin.take(&root.join("plugin.yaml"), "plugin.yaml");
        plugin.take_folders();
        let files = plugin.files;
        self.list.extend(files);
    }
}

impl Library {
    /// Files and folders beside those of a plugin that look as if they were to be read, and are not.
    pub fn strays(&self, problems: &mut Problems) {
        for (id, root) in &self.files.folders {
            for path in entries(root).unwrap_or_default() {
                let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
                let read = if path.is_dir() {
                    Kind::ALL.iter().any(|kind| kind.folder() == name)
                } else {
                    let extension = path.extension().map(|end| end.to_string_lossy().into_owned()).unwrap_or_default();
                    name == "plugin.yaml" || !["yaml", "yml", "csv", "rhai"].contains(&extension.as_str())
                };
                let place = Place::whole(&Source::new(format!("{id}/{name}"), ""));
                let known = problems.iter().any(|problem| problem.code == Code::StrayFile && problem.place == place);
                if !read && !known {
                    let folders: Vec<&str> = Kind::ALL.iter().map(|kind| kind.folder()).collect();
                    problems.push(
                        Diagnostic::warning(Code::StrayFile, &place, format!("nothing reads `{name}`"))
                            .expected(format!("one of the folders {}", folders.join(", ")))
                            .help("move it into one of these, or out of the plugin"),
                    );
                }
            }
        }
    }
}

struct PluginFolder<'a> {
    root: &'a Path,
    id: &'a str,
    layer: Layer,
    problems: &'a mut Problems,
    files: Vec<File>,
    /// More files were found than a plugin may have, and this was said.
    full: bool,
}

impl PluginFolder<'_> {
    fn take_folders(&mut self) {
        for kind in Kind::ALL {
            let folder = self.root.join(kind.folder());
            if !folder.exists() {
                continue;
            }
            if !self.is_inside(&folder, kind.folder()) {
                continue;
            }
            match entries(&folder) {
                Ok(paths) => {
                    for path in paths {
                        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
                        self.take(&path, &format!("{}/{name}", kind.folder()));
                    }
                }
                Err(fault) => self.problems.push(unreadable(&self.place(kind.folder()), kind.folder(), &fault)),
            }
        }
        self.hint_at_other_folders();
    }

    /// `family/` instead of `families/` would be left out in silence.
    fn hint_at_other_folders(&mut self) {
        let Ok(paths) = entries(self.root) else { return };
        for path in paths.iter().filter(|path| path.is_dir()) {
            let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            let singular = Kind::ALL.iter().find(|kind| kind.name() == name).map(|kind| kind.folder());
            let near = singular.or_else(|| nearest(&name, Kind::ALL.iter().map(|kind| kind.folder())));
            if let Some(near) = near.filter(|near| *near != name) {
                let place = self.place(&name);
                self.problems.push(
                    Diagnostic::warning(Code::StrayFile, &place, format!("nothing reads the folder `{name}`"))
                        .help(format!("did you mean `{near}`?")),
                );
            }
        }
    }

    fn take(&mut self, path: &Path, name: &str) {
        if self.files.len() == MOST_FILES {
            if !self.full {
                let place = self.place(name);
                self.problems.push(
                    Diagnostic::error(Code::NotText, &place, format!("a plugin of more than {MOST_FILES} files"))
                        .help("is this the folder you meant? Split a plugin of this size"),
                );
                self.full = true;
            }
            return;
        }
        if path.is_dir() {
            let place = self.place(name);
            self.problems.push(
                Diagnostic::warning(Code::StrayFile, &place, format!("nothing reads the folder `{name}`"))
                    .help("put the files directly into the folder above it"),
            );
            return;
        }
        if !self.is_inside(path, name) {
            return;
        }
        match read_text(path, name, &self.place(name)) {
            Ok(text) => self.files.push(File::new(self.layer, self.id, name, text)),
            Err(problem) => self.problems.push(*problem),
        }
    }

    fn is_inside(&mut self, path: &Path, name: &str) -> bool {
        let place = self.place(name);
        match fs::canonicalize(path) {
            Ok(real) if real.starts_with(self.root) => return true,
            Ok(_) => self.problems.push(
                Diagnostic::error(
                    Code::OutsidePlugin,
                    &place,
                    format!("`{name}` points outside the folder of its plugin"),
                )
                .help("put a copy of the file into the plugin"),
            ),
            Err(fault) => self.problems.push(unreadable(&place, name, &fault)),
        }
        false
    }

    fn place(&self, name: &str) -> Place {
        Place::whole(&Source::new(format!("{}/{name}", self.id), ""))
    }
}

/// In the order of their names, hidden ones left out.
fn entries(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let mut paths = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        if !entry.file_name().to_string_lossy().starts_with('.') {
            paths.push(entry.path());
        }
    }
    paths.sort();
    Ok(paths)
}
