//! Values of a sheet as a shop wants to see them, and as programs do.

use serde_json::{Value as Json, json};

use crate::quantity::{Purpose, Style, System, Units};
use crate::sheet::{Output, Shape};
use crate::value::Value;

/// Digits of a result; of a step, which may be computed on with.
const RESULT: u8 = 4;
const STEP: u8 = 6;

/// An input as it was read, and beside it in the shop's units where those are others.
pub fn input(value: &Value, units: &Units, style: &Style) -> String {
    let shop = units.show_value(value, style);
    match value {
        Value::Quantity(quantity) => {
            let written = units.show_plainly(quantity);
            if written == shop { shop } else { format!("{written}  ({shop})") }
        }
        _ => shop,
    }
}

pub fn step(value: &Value, units: &Units, style: &Style) -> String {
    units.show_value(value, &style.with(Purpose::Computed { digits: STEP }))
}

/// A result in the shop's units: the sheet's own where they belong to the same system, because a drip in L/min says
/// nothing.
pub fn output(value: &Value, output: &Output, units: &Units, style: &Style) -> String {
    units.show_value(value, &output_style(output, units, style))
}

pub fn output_style(output: &Output, units: &Units, style: &Style) -> Style {
    let mut style = style.with(Purpose::Computed { digits: RESULT });
    let (Shape::Quantity(of) | Shape::Range(of)) = &output.shape else { return style };
    let (Some(unit), Some(family)) = (&output.unit, units.family(of)) else { return style };
    let is =
        |symbol: &str| units.family(of).and_then(|family| family.unit(symbol)).is_some_and(|one| *one.symbol == **unit);
    let imperial = is(&family.inch) && !is(&family.metric);
    if style.overrides.contains_key(of) || imperial {
        return style;
    }
    let own = match style.system {
        System::Metric => vec![unit.to_string()],
        System::Both if family.metric == family.inch => vec![unit.to_string()],
        System::Both => vec![unit.to_string(), family.inch.to_string()],
        System::Inch => return style,
    };
    style.overrides.insert(of.clone(), own);
    style
}

/// `{value, unit, shown}` for quantities, the plain thing for everything else. `unit` is the one that tables carry.
pub fn json(value: &Value, unit: Option<&str>, shown: &str, units: &Units) -> Json {
    match value {
        Value::Unknown => Json::Null,
        Value::Truth(truth) => json!(truth),
        Value::Number(number) => json!({ "value": number, "unit": "1", "shown": shown }),
        Value::Quantity(quantity) => {
            let (number, unit) = in_unit(quantity, unit, units);
            json!({ "value": number, "unit": unit, "shown": shown })
        }
        Value::Range(low, high) => {
            let (low, unit) = in_unit(low, unit, units);
            let (high, _) = in_unit(high, Some(&unit), units);
            json!({ "low": low, "high": high, "unit": unit, "shown": shown })
        }
        Value::Text(text) => json!(text),
        Value::List(items) => Json::Array(items.iter().map(|item| inner(item, unit, units)).collect()),
        Value::Record(fields) => {
            Json::Object(fields.iter().map(|(name, value)| (name.clone(), inner(value, None, units))).collect())
        }
    }
}

fn inner(value: &Value, unit: Option<&str>, units: &Units) -> Json {
    match value {
        Value::Number(number) => json!(number),
        _ => json(value, unit, &units.show_value(value, &Style::default()), units),
    }
}

fn in_unit(quantity: &crate::quantity::Quantity, unit: Option<&str>, units: &Units) -> (f64, String) {
    match unit.and_then(|unit| Some((units.convert(quantity, unit).ok()?, unit))) {
        Some((value, unit)) => (value, unit.to_owned()),
        None => {
            let (value, unit) = units.plain(quantity);
            (value, if unit.is_empty() { "1".to_owned() } else { unit })
        }
    }
}
