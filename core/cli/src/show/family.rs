//! One family, or a variant of it: every value, unknown ones first, with its place and source when asked.

use serde_json::json;

use super::listing::columns;
use super::{Found, Known, Shown, absent, last};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Problems, nearest};
use standpipe_form::{Facts, Origin};
use standpipe_job::plan::typed;
use standpipe_quantity::Style;
use standpipe_yaml::At;

pub(super) fn show(id: &At<String>, known: Known<'_>, problems: &mut Problems) -> Found {
    let Known { parsed, overlays, places, json: for_program, .. } = known;
    let (name, variant) = match id.split_once('/') {
        Some((name, variant)) => (typed("<ID>", name), Some(variant.to_owned())),
        None => (id.clone(), None),
    };
    let Some((form, mut family)) = parsed.family(&name, problems) else { return Err(last(problems, &name, "family")) };
    for overlay in &overlays {
        overlay.set_values(&form, &mut family, &parsed.units, problems);
    }
    if let Some(variant) = &variant
        && !family.variants.contains_key(variant)
    {
        return Err(absent("variant", id, nearest(variant, family.variants.keys().map(String::as_str))));
    }
    let facts = family.known(variant.as_deref());
    let (unknown, known): (Vec<_>, Vec<_>) = facts.leaves().into_iter().partition(|(_, value)| value.is_unknown());

    let mut text = format!("{}: {}\n", family.id, family.title.as_deref().unwrap_or_default());
    if family.invented {
        text.push_str("INVENTED DATA\n");
    }
    for (id, variant) in &family.variants {
        let signs: Vec<String> =
            variant.signs.iter().map(|(sign, value)| format!("{} {}", sign.replace('_', " "), value.words())).collect();
        text.push_str(&format!("variant {id}: {}\n", signs.join(", ")));
    }
    let mut rows = Vec::new();
    let mut list = Vec::new();
    let mut missing = Vec::new();
    for (path, value) in unknown.iter().chain(&known) {
        let differs = value.is_unknown() && facts.differs_by_variant(path);
        let shown = match (value, differs) {
            (_, true) => "differs by variant".to_owned(),
            (value, false) => parsed.units.show_value(value, &Style::default()),
        };
        let from = where_from(facts, path);
        if for_program {
            list.push(json!({ "field": path, "value": value, "shown": shown, "origin": from }));
        }
        if value.is_unknown() && !differs && facts.origin(path).is_none() {
            missing.push(path.as_str());
            continue;
        }
        let mut row = vec![path.clone(), shown];
        if places {
            row.push(from.map_or_else(|| "not entered".to_owned(), words));
        }
        rows.push(row);
    }
    text.push('\n');
    text.push_str(&columns(rows));
    if !missing.is_empty() {
        text.push_str(&format!("\nnobody has entered: {}\n", missing.join(", ")));
    }
    Ok(Shown {
        text,
        json: json!({
            "family": family.id, "variant": variant, "title": family.title, "invented": family.invented,
            "values": list,
        }),
        html: None,
    })
}

/// Origin of a value; a list or a record stands as a whole where its parts do not.
fn where_from<'a>(facts: &'a Facts, path: &str) -> Option<&'a Origin> {
    let mut path = path;
    loop {
        if let Some(origin) = facts.origin(path) {
            return Some(origin);
        }
        path = path.rsplit_once('.')?.0;
    }
}

fn words(origin: &Origin) -> String {
    let line = |place: &Place| format!("{}:{}", place.name(), place.line());
    let mut words = line(&origin.place);
    for other in &origin.overrides {
        words.push_str(&format!(" instead of {}", line(other)));
    }
    if let Some(source) = &origin.source {
        words.push_str(&format!("; {}", source.from));
    }
    words
}
