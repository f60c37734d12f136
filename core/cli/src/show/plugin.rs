//! One plugin: its manifest and what it contributes.

use serde_json::json;

use super::{Found, Shown, absent};
use standpipe_diagnostic::nearest;
use standpipe_job::plan::Parsed;
use standpipe_library::Kind;
use standpipe_yaml::At;

pub fn show(id: &At<String>, parsed: &Parsed) -> Found {
    let plugins = &parsed.library.plugins;
    let Some(plugin) = plugins.get(id.as_str()) else {
        return Err(absent("plugin", id, nearest(id, plugins.keys().map(String::as_str))));
    };
    let used: Vec<&str> = plugin.plugins.iter().map(|need| need.value.as_str()).collect();
    let mut text = format!("{} {}\n", plugin.id, plugin.version);
    let mut line = |name: &str, value: &str| {
        if !value.is_empty() {
            text.push_str(&format!("{name:<12}{value}\n"));
        }
    };
    line("from", &plugin.layer.to_string());
    line("plugins", &used.join(", "));
    line("invented", if plugin.invented { "yes" } else { "" });
    let mut contents = serde_json::Map::new();
    for kind in Kind::ALL {
        let ids: Vec<&str> = parsed
            .library
            .documents(kind)
            .filter(|document| document.plugin == plugin.id)
            .map(|document| document.id.as_str())
            .collect();
        line(kind.name(), &ids.join(", "));
        if !ids.is_empty() {
            contents.insert(kind.name().to_owned(), json!(ids));
        }
    }
    Ok(Shown {
        text,
        json: json!({
            "id": plugin.id, "version": plugin.version, "layer": plugin.layer, "invented": plugin.invented,
            "plugins": used, "contents": contents,
        }),
        html: None,
    })
}
