//! In which order plugins lie over one another, and which of them can't be used.

use indexmap::IndexMap;

use super::manifest::Plugin;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// Leaves out plugins whose needs are not there and sorts the others: what is needed comes first, then by layer and id.
pub(super) fn settle(plugins: Vec<Plugin>, left_out: &[String], problems: &mut Problems) -> IndexMap<String, Plugin> {
    let mut known: IndexMap<String, Plugin> = IndexMap::new();
    let mut plugins = plugins;
    plugins.sort_by(|a, b| (a.layer, &a.id).cmp(&(b.layer, &b.id)));
    for plugin in plugins {
        known.insert(plugin.id.clone(), plugin);
    }
    let mut left_out = left_out.to_vec();
    while let Some((id, problem)) = first_without(&known, &left_out) {
        problems.push(problem);
        known.shift_remove(&id);
        left_out.push(id);
    }
    let mut sorted = IndexMap::new();
    let mut waiting: Vec<Plugin> = known.into_values().collect();
    while !waiting.is_empty() {
        let ready =
            waiting.iter().position(|plugin| plugin.plugins.iter().all(|need| sorted.contains_key(&need.value)));
        let Some(ready) = ready else {
            report_circle(&waiting, problems);
            break;
        };
        let plugin = waiting.remove(ready);
        sorted.insert(plugin.id.clone(), plugin);
    }
    sorted
}

fn first_without(known: &IndexMap<String, Plugin>, left_out: &[String]) -> Option<(String, Diagnostic)> {
    for plugin in known.values() {
        let Some(need) = plugin.plugins.iter().find(|need| !known.contains_key(&need.value)) else { continue };
        let problem = if left_out.contains(&need.value) {
            let message = format!("the plugin `{}` needs `{}`, which can't be used", plugin.id, need.value);
            Diagnostic::error(Code::MissingPlugin, &need.place, message).help(format!("fix `{}` first", need.value))
        } else {
            let message = format!("the plugin `{}` needs `{}`, which is not there", plugin.id, need.value);
            Diagnostic::error(Code::MissingPlugin, &need.place, message).nearest(
                &need.value,
                known.keys().map(String::as_str),
                "add the folder that holds it with --plugins, or to the workshop's list",
            )
        };
        return Some((plugin.id.clone(), problem));
    }
    None
}

fn report_circle(waiting: &[Plugin], problems: &mut Problems) {
    for plugin in waiting {
        let back = plugin.plugins.iter().find(|need| waiting.iter().any(|other| other.id == need.value));
        if let Some(need) = back {
            let message = format!("the plugin `{}` needs `{}`, which needs it in turn", plugin.id, need.value);
            problems.push(
                Diagnostic::error(Code::MissingPlugin, &need.place, message)
                    .help("move what both use into a third plugin that both need"),
            );
        }
    }
}
