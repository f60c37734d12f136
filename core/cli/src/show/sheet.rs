//! A sheet as it is written, and how its script is worked out.

use indexmap::IndexMap;
use serde_json::json;

use super::{Found, text};
use standpipe_job::plan::Parsed;
use standpipe_library::Kind;
use standpipe_script::Lowered;
use standpipe_sheet::Sheet;
use standpipe_yaml::At;

pub fn show(id: &At<String>, lowered: bool, parsed: &Parsed) -> Found {
    let mut shown = text::show(Kind::Sheet, id, false, parsed)?;
    let mut quiet = Vec::new();
    let document = parsed.library.find(Kind::Sheet, id, &mut quiet);
    let sheet = document.and_then(|one| Sheet::read(&one.source, &one.plugin, &parsed.units, &mut quiet));
    let Some(sheet) = sheet else { return Ok(shown) };
    let program = sheet.lowered(&parsed.scripts(), &IndexMap::new());
    let reasons = program.as_ref().map(Lowered::reasons).unwrap_or_default();
    let runs = program.as_ref().is_some_and(Lowered::is_lowered);
    let way = match (runs, reasons.is_empty()) {
        (true, true) => "as a program over numbers",
        (true, false) => "as a program over numbers, except where the interpreter has to take over:",
        (false, _) => "by the interpreter:",
    };
    shown.text.push_str(&format!("\nits script runs {way}\n"));
    for (why, place) in &reasons {
        shown.text.push_str(&format!("  {place}: {why}\n"));
    }
    if lowered && let Some(program) = &program {
        shown.text.push_str(&format!("\n{}", program.dump()));
    }
    if let Some(out) = shown.json.as_object_mut() {
        let why: Vec<_> = reasons
            .iter()
            .map(|(why, place)| json!({ "why": why, "file": place.name(), "line": place.line(), "column": place.column() }))
            .collect();
        out.insert("runs".to_owned(), json!({ "as_program": runs, "interpreter": why }));
        if lowered {
            out.insert("program".to_owned(), json!(program.as_ref().map(Lowered::dump)));
        }
    }
    Ok(shown)
}
