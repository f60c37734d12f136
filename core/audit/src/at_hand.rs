//! A plan that a job kept, beside the plugins that are at hand: under one name and version there is one text.

use std::sync::OnceLock;

use super::point::Point;
use standpipe_diagnostic::Problems;
use standpipe_job::plan::Snapshot;
use standpipe_library::{Files, Layer, STANDARD};
use standpipe_yaml as yaml;

/// Not shown, as both may be honest: somebody may have changed the plugin and left its version as it was.
pub(super) fn point(snapshot: &Snapshot, file: &str) -> Point {
    static BUILT_IN: OnceLock<Files> = OnceLock::new();
    let mut point = Point::new("texts of the plan", file);
    point.looked_at = snapshot.files.list.iter().filter(|file| file.layer == Layer::BuiltIn).count() as u64;
    for difference in differing(snapshot, BUILT_IN.get_or_init(Files::built_in)) {
        point.find(super::Verdict::NotShown, None, difference);
    }
    point
}

/// What a plan has otherwise than the plugins at hand that have the same name and version; one sentence for each text.
pub fn differing(snapshot: &Snapshot, at_hand: &Files) -> Vec<String> {
    let kept = &snapshot.files;
    let of = |files: &Files, plugin: &str, layer: Layer, path: &str| {
        files.of(plugin).find(|file| file.layer == layer && file.path == path).map(|file| file.source.clone())
    };
    let mut plugins: Vec<(&str, Layer)> = Vec::new();
    for file in &kept.list {
        if !plugins.contains(&(file.plugin.as_str(), file.layer)) {
            plugins.push((&file.plugin, file.layer));
        }
    }
    let mut found = Vec::new();
    for (plugin, layer) in plugins {
        let version = match plugin == STANDARD {
            // The scripts that every plugin may use are of the version of the program.
            true => (snapshot.tool == env!("CARGO_PKG_VERSION")).then(|| snapshot.tool.clone()),
            false => version(kept, plugin, layer).filter(|kept| version(at_hand, plugin, layer).as_ref() == Some(kept)),
        };
        let Some(version) = version else { continue };
        let under = format!("of `{plugin}` {version}");
        for file in kept.of(plugin).filter(|file| file.layer == layer) {
            match of(at_hand, plugin, layer, &file.path) {
                Some(source) if source.text == file.source.text => {}
                Some(_) => found.push(format!("`{}` {under} differs from the text at hand", file.path)),
                None => found.push(format!("`{}` {under} is not among the texts at hand", file.path)),
            }
        }
    }
    found
}

fn version(files: &Files, plugin: &str, layer: Layer) -> Option<String> {
    let manifest = files.of(plugin).find(|file| file.layer == layer && file.path == "plugin.yaml")?;
    let root = yaml::parse(&manifest.source, &mut Problems::new())?;
    Some(root.get("version")?.as_text()?.to_owned())
}
