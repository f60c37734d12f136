//! One form: its fields and how they are asked for.

use indexmap::IndexMap;
use serde_json::json;

use super::listing::columns;
use super::{Found, Shown, last};
use standpipe_diagnostic::Problems;
use standpipe_form::Field;
use standpipe_job::plan::Parsed;
use standpipe_quantity::Style;
use standpipe_yaml::At;

pub fn show(id: &At<String>, places: bool, parsed: &Parsed, problems: &mut Problems) -> Found {
    let Some(form) = parsed.form(id, problems) else { return Err(last(problems, id, "form")) };
    let mut text = format!("{}: {}\n", form.id, form.title.as_deref().unwrap_or_default());
    let mut part = |title: &str, fields: &IndexMap<String, Field>| {
        if fields.is_empty() {
            return;
        }
        let rows = fields
            .iter()
            .map(|(path, field)| {
                let plausible = field
                    .plausible
                    .as_ref()
                    .map(|(low, high)| format!("plausible {}", parsed.units.show_range(low, high, &Style::default())));
                vec![
                    format!("{}{path}", if field.required { "* " } else { "  " }),
                    field.expected(),
                    plausible.unwrap_or_default(),
                    if places { field.place.to_string() } else { String::new() },
                ]
            })
            .collect();
        text.push_str(&format!("\n{title}\n{}", columns(rows)));
    };
    part("to be known of a family (* required)", &form.fields);
    part("told apart by", &form.signs);
    part("to be known of a job", &form.job);
    let fields = |fields: &IndexMap<String, Field>| -> Vec<_> {
        fields
            .iter()
            .map(|(path, field)| {
                json!({
                    "field": path, "is": field.expected(), "required": field.required, "ask": field.ask,
                    "place": field.place,
                })
            })
            .collect()
    };
    Ok(Shown {
        json: json!({
            "form": form.id, "fields": fields(&form.fields), "signs": fields(&form.signs), "job": fields(&form.job),
        }),
        text,
        html: None,
    })
}
