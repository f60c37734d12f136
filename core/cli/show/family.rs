//! One family, or a variant of it: every value, unknown ones first, with its place and source when asked.

use serde_json::{Value as Json, json};

use super::listing::columns;
use super::{Found, Shown, absent, last};
use crate::diagnostic::{Problems, nearest};
use crate::form::Family;
use crate::plan::{Parsed, typed};
use crate::quantity::Style;
use crate::source::At;
use crate::value::Value;

pub fn show(id: &At<String>, origin: bool, parsed: &Parsed, problems: &mut Problems) -> Found {
    let (name, variant) = match id.split_once('/') {
        Some((name, variant)) => (typed("<ID>", name), Some(variant.to_owned())),
        None => (id.clone(), None),
    };
    let Some((_, family)) = parsed.family(&name, problems) else { return Err(last(problems, &name, "family")) };
    if let Some(variant) = &variant
        && !family.variants.contains_key(variant)
    {
        return Err(absent("variant", id, nearest(variant, family.variants.keys().map(String::as_str))));
    }
    let facts = family.facts(variant.as_deref());
    let mut values = Vec::new();
    flatten(&facts, String::new(), &mut values);
    let (unknown, known): (Vec<_>, Vec<_>) = values.into_iter().partition(|(_, value)| value.is_unknown());

    let mut text = format!("{}: {}\n", family.id, family.title);
    if family.invented {
        text.push_str("INVENTED DATA\n");
    }
    for (id, variant) in &family.variants {
        let signs: Vec<String> = variant
            .signs
            .iter()
            .map(|(sign, value)| {
                format!("{} {}", sign.replace('_', " "), parsed.units.show_value(value, &Style::default()))
            })
            .collect();
        text.push_str(&format!("variant {id}: {}\n", signs.join(", ")));
    }
    let mut rows = Vec::new();
    let mut list = Vec::new();
    for (path, value) in unknown.iter().chain(&known) {
        let differs = value.is_unknown() && variant.is_none() && family.differs(path);
        let shown = match (value, differs) {
            (_, true) => "differs by variant".to_owned(),
            (value, false) => parsed.units.show_value(value, &Style::default()),
        };
        let (place, rest) = where_from(&family, variant.as_deref(), path);
        list.push(json!({ "field": path, "value": value, "shown": shown, "origin": place, "source": rest["source"] }));
        let mut row = vec![path.clone(), shown];
        if origin {
            row.push(words(&place, &rest));
        }
        rows.push(row);
    }
    text.push('\n');
    text.push_str(&columns(rows));
    Ok(Shown {
        text,
        json: json!({
            "family": family.id, "variant": variant, "title": family.title, "invented": family.invented,
            "values": list,
        }),
    })
}

/// Place of a value, and what it rests on.
fn where_from(family: &Family, variant: Option<&str>, path: &str) -> (Json, Json) {
    // A list of a record stands as a whole where its parts do not.
    let mut path = path;
    loop {
        if let Some(origin) = family.origin(variant, path) {
            let source = origin.stated.map(|stated| {
                json!({ "from": stated.from, "entered_by": stated.entered_by, "checked_by": stated.checked_by })
            });
            return (json!(origin.place), json!({ "source": source, "instead_of": origin.instead_of }));
        }
        match path.rsplit_once('.') {
            Some((parent, _)) => path = parent,
            None => return (Json::Null, json!({ "source": null, "instead_of": null })),
        }
    }
}

fn words(place: &Json, rest: &Json) -> String {
    let line = |place: &Json| format!("{}:{}", place["file"].as_str().unwrap_or_default(), place["line"]);
    if place.is_null() {
        return "not entered".to_owned();
    }
    let mut words = line(place);
    if !rest["instead_of"].is_null() {
        words.push_str(&format!(" instead of {}", line(&rest["instead_of"])));
    }
    if let Some(from) = rest["source"]["from"].as_str() {
        words.push_str(&format!("; {from}"));
    }
    words
}

/// Every single value with its dotted path.
pub fn flatten(value: &Value, path: String, out: &mut Vec<(String, Value)>) {
    match value {
        Value::Record(fields) => {
            for (name, value) in fields {
                flatten(value, if path.is_empty() { name.clone() } else { format!("{path}.{name}") }, out);
            }
        }
        other => out.push((path, other.clone())),
    }
}
