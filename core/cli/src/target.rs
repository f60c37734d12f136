//! What the paths of a command stand for.

use std::fs;
use std::path::{Path, PathBuf};

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_library::{Kind, read_file};
use standpipe_yaml as yaml;

#[derive(Debug, Default)]
pub struct Targets {
    /// Folders of single plugins.
    pub plugins: Vec<PathBuf>,
    /// Single documents of these plugins, as messages name them; all of a plugin's if none is named.
    pub documents: Vec<String>,
    pub shops: Vec<PathBuf>,
    pub jobs: Vec<PathBuf>,
    pub answers: Vec<PathBuf>,
}

/// Keys by which files outside of plugins are told.
const OUTSIDE: [&str; 3] = ["shop", "job", "answers"];

const MANIFEST: &str = "plugin.yaml";

impl Targets {
    pub fn find(paths: &[PathBuf], problems: &mut Problems) -> Self {
        let mut targets = Self::default();
        let mut whole = Vec::new();
        for path in paths {
            if path.is_dir() {
                let before = targets.plugins.len();
                targets.folder(path, problems);
                whole.extend(targets.plugins[before..].to_vec());
            } else {
                targets.file(path, true, problems);
            }
        }
        // A plugin that was also named as a whole is meant as a whole.
        let ids: Vec<String> = whole.iter().map(|folder| format!("{}/", id_of(folder))).collect();
        targets.documents.retain(|document| !ids.iter().any(|id| document.starts_with(id)));
        if !targets.documents.is_empty() {
            targets.documents.extend(ids);
        }
        targets
    }

    fn folder(&mut self, folder: &Path, problems: &mut Problems) {
        if folder.join(MANIFEST).exists() {
            add(&mut self.plugins, folder);
            return;
        }
        // What a job left behind is no file to be checked.
        if folder.join("journal.jsonl").exists() {
            return;
        }
        let mut entries: Vec<PathBuf> = match fs::read_dir(folder) {
            Ok(entries) => entries.filter_map(Result::ok).map(|entry| entry.path()).collect(),
            Err(fault) => {
                let name = folder.display().to_string();
                let place = Place::whole(&Source::new(name.clone(), ""));
                problems.push(
                    Diagnostic::error(Code::UnreadableFile, &place, format!("`{name}` can't be read: {fault}"))
                        .help("check the name, and that you may read it"),
                );
                return;
            }
        };
        entries.sort();
        for entry in entries {
            let hidden = entry.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
            if hidden || entry.is_symlink() {
                continue;
            }
            if entry.is_dir() {
                self.folder(&entry, problems);
            } else if is_yaml(&entry) {
                self.file(&entry, false, problems);
            }
        }
    }

    /// A file that was `named` must be one that can be checked; one that was met in a folder need not.
    fn file(&mut self, path: &Path, named: bool, problems: &mut Problems) {
        if let Some(plugin) = path.parent().and_then(plugin_around) {
            let inside = path.strip_prefix(&plugin).unwrap_or(path);
            let inside: Vec<String> =
                inside.components().map(|part| part.as_os_str().to_string_lossy().into_owned()).collect();
            self.documents.push(format!("{}/{}", id_of(&plugin), inside.join("/")));
            add(&mut self.plugins, &plugin);
            return;
        }
        let Some(source) = read_file(path, problems) else { return };
        let mut found = Problems::new();
        let root = yaml::parse(&source, &mut found);
        let keys: Vec<&str> = match &root {
            Some(root) => root.as_map().unwrap_or_default().iter().map(|(key, _)| key.value.as_str()).collect(),
            // Not sound, but what it was to be can be told from how its lines begin.
            None => source.text.lines().filter_map(|line| line.split_once(':')).map(|(key, _)| key).collect(),
        };
        match keys.iter().find_map(|key| OUTSIDE.iter().find(|word| *word == key)) {
            Some(&"shop") if !keys.contains(&"job") => add(&mut self.shops, path),
            Some(&"answers") => add(&mut self.answers, path),
            Some(_) => add(&mut self.jobs, path),
            None if !named => {}
            None if root.is_none() => problems.extend(found),
            None => {
                let place = root.as_ref().map_or_else(|| Place::whole(&source), |root| root.head());
                let kind = Kind::ALL.iter().find(|kind| keys.contains(&kind.name()));
                let problem = match kind {
                    Some(kind) => {
                        Diagnostic::error(Code::NoManifest, &place, format!("a {kind} outside of any plugin"))
                            .help(format!("put it into `{}/` of a folder with a {MANIFEST}", kind.folder()))
                    }
                    None => Diagnostic::error(Code::WrongArguments, &place, "nothing tells what this file is")
                        .expected("a file of a plugin, or one with the key `shop`, `job` or `answers`")
                        .help("name the folder of the plugin, or correct the first key"),
                };
                problems.push(problem);
            }
        }
    }
}

fn add(list: &mut Vec<PathBuf>, path: &Path) {
    if !list.iter().any(|known| known == path) {
        list.push(path.to_owned());
    }
}

fn is_yaml(path: &Path) -> bool {
    path.extension().is_some_and(|extension| extension == "yaml" || extension == "yml")
}

/// The name of the folder, also where it is given as `.`.
fn id_of(folder: &Path) -> String {
    let real = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
    real.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

/// The plugin that a folder belongs to: the nearest one around it with a manifest. Plugins are one level deep.
fn plugin_around(folder: &Path) -> Option<PathBuf> {
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    if here.join(MANIFEST).exists() {
        return Some(here.to_owned());
    }
    let above = here.join("..");
    let name = fs::canonicalize(here).ok()?.file_name()?.to_string_lossy().into_owned();
    let of_plugin = Kind::ALL.iter().any(|kind| kind.folder() == name);
    if !of_plugin || !above.join(MANIFEST).exists() {
        return None;
    }
    match here.parent() {
        Some(parent) if !parent.as_os_str().is_empty() && here != Path::new(".") => Some(parent.to_owned()),
        _ => Some(above),
    }
}
