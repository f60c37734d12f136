//! Documents that are best read as they are written.

use serde_json::json;

use super::{Found, Shown, last};
use standpipe_diagnostic::Problems;
use standpipe_job::plan::Parsed;
use standpipe_library::Kind;
use standpipe_yaml::At;

pub fn show(kind: Kind, id: &At<String>, places: bool, parsed: &Parsed) -> Found {
    let mut problems = Problems::new();
    let Some(document) = parsed.library.find(kind, id, &mut problems) else {
        return Err(last(&mut problems, id, kind.name()));
    };
    let source = &document.source;
    let mut text = String::new();
    if places {
        text.push_str(&format!("# {} ({})\n", source.name, document.layer));
        let mut below = document.overrides.as_ref();
        while let Some(other) = below {
            text.push_str(&format!("# over {} ({})\n", other.source.name, other.layer));
            below = other.overrides.as_ref();
        }
        for (number, line) in source.text.lines().enumerate() {
            text.push_str(&format!("{:>4}  {line}\n", number + 1));
        }
    } else {
        text.push_str(source.text.trim_end());
        text.push('\n');
    }
    Ok(Shown {
        text,
        json: json!({ "kind": kind.name(), "id": document.id, "file": source.name, "text": source.text }),
        html: None,
    })
}
