//! The part of a library that a job keeps.

use super::{Document, File, Files, Kind, Layer, Library, STANDARD};

impl Library {
    /// The texts of these plugins and of all that they rest on: what they need, what defines units, what overrides
    /// anything of theirs, and the shared scripts. Cases, models, people and notes stay behind: no job rests on them.
    pub fn snapshot<'a>(&self, ids: impl IntoIterator<Item = &'a str>) -> Files {
        let mut chosen: Vec<&str> =
            ids.into_iter().filter_map(|id| self.plugins.get_key_value(id)).map(|(id, _)| id.as_str()).collect();
        // Units are one body of knowledge: a unit of any plugin may decide how a text is read.
        chosen.extend(self.documents(Kind::Units).map(|document| document.plugin.as_str()));
        let mut next = 0;
        while next < chosen.len() {
            let id = chosen[next];
            next += 1;
            let needs =
                self.plugins.get(id).into_iter().flat_map(|plugin| &plugin.plugins).map(|need| need.value.as_str());
            let overriding = self.index.exclusive.values().filter(|document| touches(document, id));
            let more: Vec<&str> = needs.chain(overriding.flat_map(|document| chain(document))).collect();
            for id in more {
                if !chosen[..].contains(&id) {
                    chosen.push(id);
                }
            }
        }
        let used = |file: &&File| {
            let standard = file.plugin == STANDARD && file.layer == Layer::BuiltIn && file.path.ends_with(".rhai");
            let of_plugin = chosen.contains(&file.plugin.as_str())
                && self.plugins.get(&file.plugin).is_some_and(|plugin| plugin.layer == file.layer);
            let read = file.path == "plugin.yaml"
                || Kind::ALL.iter().any(|kind| {
                    !matches!(kind, Kind::Case | Kind::Model | Kind::People)
                        && file.path.starts_with(kind.folder())
                        && file.path.ends_with(kind.extension())
                });
            standard || (of_plugin && read)
        };
        Files { list: self.files.list.iter().filter(used).cloned().collect(), folders: Vec::new() }
    }
}

/// Whether the document, or one that it replaced, belongs to the plugin.
fn touches(document: &Document, plugin: &str) -> bool {
    chain(document).any(|id| id == plugin)
}

fn chain(document: &Document) -> impl Iterator<Item = &str> {
    std::iter::successors(Some(document), |document| document.overrides.as_deref())
        .map(|document| document.plugin.as_str())
}
