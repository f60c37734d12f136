//! One quantity: its dimension and its units with their exact factors.

use serde_json::json;

use super::listing::columns;
use super::{Found, Shown, absent};
use standpipe_diagnostic::nearest;
use standpipe_job::plan::Parsed;
use standpipe_yaml::At;

pub fn show(id: &At<String>, parsed: &Parsed) -> Found {
    let Some(family) = parsed.units.family(id) else {
        let names = parsed.units.families().map(|family| &*family.name);
        return Err(absent("quantity", id, nearest(id, names)));
    };
    let mut rows = vec![["unit", "in base units", "also written", "in scripts"].map(str::to_owned).to_vec()];
    for unit in family.units.values() {
        let also: Vec<&str> = unit.also.iter().map(|text| &**text).take(6).collect();
        rows.push(vec![
            unit.symbol.to_string(),
            if unit.shift == 0.0 {
                unit.factor_text.to_string()
            } else {
                format!("(x + {}) * {}", unit.shift, unit.factor_text)
            },
            also.join("  "),
            unit.script.as_ref().map(|name| name.to_string()).unwrap_or_default(),
        ]);
    }
    let mut text = format!("{}, dimension {}\n", family.title(), family.dimension);
    if family.point {
        text.push_str("points of a scale: their difference is another quantity\n");
    }
    if !family.distinct_from.is_empty() {
        let others: Vec<&str> = family.distinct_from.iter().map(|name| &**name).collect();
        text.push_str(&format!("not to be taken for {}\n", others.join(", ")));
    }
    text.push('\n');
    text.push_str(&columns(rows));
    for (written, choices) in &family.ambiguous {
        let choices: Vec<&str> = choices.iter().map(|choice| &**choice).collect();
        text.push_str(&format!("`{written}` alone could be {}\n", choices.join(" or ")));
    }
    let units: Vec<_> = family
        .units
        .values()
        .map(|unit| json!({ "unit": &*unit.symbol, "factor": unit.factor, "exact": &*unit.factor_text, "shift": unit.shift }))
        .collect();
    Ok(Shown {
        text,
        json: json!({ "quantity": &*family.name, "dimension": family.dimension.to_string(), "point": family.point, "units": units }),
        html: None,
    })
}
