//! The page of a code.

use serde_json::json;

use super::{Found, Shown, absent};
use standpipe_diagnostic::columns::wrap;
use standpipe_diagnostic::{Code, nearest};
use standpipe_job::plan::typed;

pub fn show(id: &str, width: usize) -> Found {
    let id = typed("<ID>", id);
    let Some(code) = Code::ALL.iter().find(|code| code.name().eq_ignore_ascii_case(&id)) else {
        let names = Code::ALL.iter().map(|code| code.name());
        return Err(absent("code", &id, nearest(&id.value.to_uppercase(), names)));
    };
    let mut json = json!({ "code": code.name(), "meaning": code.meaning() });
    let mut text = format!("{code}: {}\n", code.meaning());
    if let (Some(page), Some(fields)) = (code.page(), json.as_object_mut()) {
        fields.extend([
            ("about".to_owned(), json!(page.about)),
            ("example".to_owned(), json!(page.example)),
            ("fix".to_owned(), json!(page.fix)),
        ]);
        let example: String = page.example.lines().map(|line| format!("    {line}\n")).collect();
        let paragraph = |text: &str| wrap(text, width).join("\n");
        text.push_str(&format!(
            "\n{}\n\n{example}\n{}\n",
            paragraph(&page.about),
            paragraph(&format!("Fix: {}", page.fix))
        ));
    }
    Ok(Shown { text, json, html: None })
}
