//! Lists: what there is.

use comfy_table::{ContentArrangement, Table, presets};
use serde_json::json;

use super::Shown;
use standpipe_diagnostic::Code;
use standpipe_job::plan::Parsed;
use standpipe_library::{Kind, Layer};

/// Wide enough for a place beside a value, narrow enough to read.
const WIDTH: u16 = 100;

/// Columns of text, aligned, without rules; long cells go on in the next line.
pub fn columns(rows: Vec<Vec<String>>) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic).set_width(WIDTH);
    for row in rows {
        table.add_row(row);
    }
    // The table pads its last column and starts every line with a blank.
    table.to_string().lines().map(|line| format!("{}\n", line.strip_prefix(' ').unwrap_or(line).trim_end())).collect()
}

pub fn codes() -> Shown {
    let rows = Code::ALL.iter().map(|code| vec![code.name().to_owned(), code.meaning().to_owned()]).collect();
    let codes: Vec<_> =
        Code::ALL.iter().map(|code| json!({ "code": code.name(), "meaning": code.meaning() })).collect();
    Shown { text: columns(rows), json: json!({ "codes": codes }), html: None }
}

pub fn everything(parsed: &Parsed) -> Shown {
    let mut rows = vec![vec!["plugin".to_owned(), parsed.library.plugins.len().to_string()]];
    rows.push(vec!["quantity".to_owned(), parsed.units.families().count().to_string()]);
    for kind in Kind::ALL {
        rows.push(vec![kind.name().to_owned(), parsed.library.documents(kind).count().to_string()]);
    }
    let counts: serde_json::Map<_, _> = rows.iter().map(|row| (row[0].clone(), json!(row[1]))).collect();
    let text = format!("{}\n`standpipe show KIND` lists them, `standpipe show KIND ID` shows one.\n", columns(rows));
    Shown { text, json: json!({ "counts": counts }), html: None }
}

pub fn plugins(parsed: &Parsed) -> Shown {
    let plugins: Vec<_> = parsed
        .library
        .plugins
        .values()
        .map(|plugin| {
            json!({ "id": plugin.id, "version": plugin.version, "layer": plugin.layer, "invented": plugin.invented })
        })
        .collect();
    let rows = parsed
        .library
        .plugins
        .values()
        .map(|plugin| {
            let invented = if plugin.invented { "invented" } else { "" };
            vec![plugin.id.clone(), plugin.version.clone(), plugin.layer.to_string(), invented.to_owned()]
        })
        .collect();
    Shown { text: columns(rows), json: json!({ "plugins": plugins }), html: None }
}

pub fn quantities(parsed: &Parsed) -> Shown {
    let rows = parsed
        .units
        .families()
        .map(|family| vec![family.name.to_string(), family.symbols().take(8).collect::<Vec<_>>().join("  ")])
        .collect();
    let list: Vec<_> = parsed
        .units
        .families()
        .map(|family| json!({ "quantity": &*family.name, "units": family.symbols().collect::<Vec<_>>() }))
        .collect();
    Shown { text: columns(rows), json: json!({ "quantities": list }), html: None }
}

pub fn documents(parsed: &Parsed, kind: Kind) -> Shown {
    let mut rows = Vec::new();
    let mut list = Vec::new();
    for document in parsed.library.documents(kind) {
        let title = document.title().unwrap_or_default();
        let overrides = document.overrides.as_ref().map(|other| other.plugin.clone());
        let from = match (&overrides, document.layer) {
            (Some(other), _) => format!("{} over {other}", document.plugin),
            (None, Layer::BuiltIn) => document.plugin.clone(),
            (None, layer) => format!("{} ({layer})", document.plugin),
        };
        list.push(json!({ "id": document.id, "title": title, "plugin": document.plugin, "overrides": overrides }));
        rows.push(vec![document.id.clone(), title, from]);
    }
    if rows.is_empty() {
        return Shown { text: format!("no {kind} in force\n"), json: json!({ "documents": [] }), html: None };
    }
    Shown { text: columns(rows), json: json!({ "documents": list }), html: None }
}
