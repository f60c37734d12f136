//! Values of a sheet as a shop wants to see them, and as programs do.

use serde_json::{Value as Json, json};

use super::{Desk, Done};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity, Style, System, Units};
use standpipe_sheet::uncertainty::{Found, Propagated, Spread};
use standpipe_sheet::{Output, Shape};

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

/// The same, with how far it may be off.
pub fn uncertain_input(value: &Value, spread: Option<&Spread>, units: &Units, style: &Style) -> String {
    let text = input(value, units, style);
    match (spread, value) {
        (Some(spread), Value::Quantity(quantity)) => {
            format!("{text}, u = {}", units.show_spread(quantity, spread.standard()))
        }
        _ => text,
    }
}

/// The standard uncertainty of an input in the unit in which it was written.
pub fn standard(name: &str, value: &Value, done: &Done, units: &Units) -> Option<f64> {
    let (Some(spread), Value::Quantity(quantity)) = (done.spreads.get(name), value) else { return None };
    let (_, unit) = units.plain(quantity);
    let factor = quantity.of.as_deref().and_then(|of| units.difference(1.0, of, &unit).ok()).unwrap_or(1.0);
    Some(spread.standard() / factor)
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

/// A result with its uncertainty; `None` where none is known of it.
pub fn uncertain(name: &str, value: &Value, found: &Propagated, desk: &Desk) -> Option<String> {
    match found.outputs.get(name)? {
        Found::Number { uncertain, .. } => {
            let style = output_style(&desk.sheet.outputs[name], &desk.units, &desk.shop.style);
            let shown = desk.units.show_uncertain(&quantity(value)?, uncertain, &style);
            Some(format!("{}, u = {}, 95 % in {}", shown.value, shown.standard, shown.interval))
        }
        Found::Shares(shares) if shares.len() > 1 => {
            let share = |(text, share): &(String, f64)| format!("{text} in {} of 100", percent(*share));
            let text = desk.units.show_value(value, &desk.shop.style);
            Some(format!("{text}: {}", shares.iter().map(share).collect::<Vec<_>>().join(", ")))
        }
        Found::Shares(_) => None,
    }
}

/// Never rounded to all or nothing.
fn percent(share: f64) -> String {
    let percent = (share * 100.0).round();
    match share {
        _ if percent >= 100.0 && share < 1.0 => "more than 99".to_owned(),
        _ if percent <= 0.0 => "less than 1".to_owned(),
        _ => percent.to_string(),
    }
}

/// Where the formula is so curved that the mean of the trials lies elsewhere than the result at the best values.
pub fn curved(name: &str, done: &Done, found: &Propagated, desk: &Desk) -> Option<String> {
    let Found::Number { mean, uncertain } = found.outputs.get(name)? else { return None };
    let value = quantity(done.outcome.as_ref()?.outputs.get(name)?)?;
    // A fifth of the uncertainty is what its second digit can bear.
    if (mean - value.si).abs() <= 0.2 * uncertain.standard {
        return None;
    }
    let style = output_style(&desk.sheet.outputs[name], &desk.units, &desk.shop.style);
    let mean = Quantity { si: *mean, written: None, ..value };
    let shown = desk.units.show_uncertain(&mean, uncertain, &style);
    Some(format!("{name}: the mean of the trials is {}; the formula is curved over so wide a spread", shown.value))
}

/// What each input alone makes of the uncertainty, the largest first.
pub fn budget(name: &str, found: &Propagated, desk: &Desk) -> Option<String> {
    let Found::Number { .. } = found.outputs.get(name)? else { return None };
    let output = &desk.sheet.outputs[name];
    let unit = output.unit.as_deref().unwrap_or("1");
    let mut parts: Vec<_> = found.contributions.get(name)?.iter().collect();
    parts.sort_by(|a, b| b.1.total_cmp(a.1));
    let factor = factor(output, &desk.units);
    let parts = parts.iter().map(|(input, part)| format!("{input} {}", significant_two(**part / factor)));
    let parts = parts.collect::<Vec<_>>().join(", ");
    Some(if unit == "1" { format!("u of {name} from {parts}") } else { format!("u of {name} in {unit} from {parts}") })
}

fn significant_two(number: f64) -> String {
    if number == 0.0 {
        return "0".to_owned();
    }
    let decimals = (1 - number.abs().log10().floor() as i32).max(0) as usize;
    if decimals > 6 { format!("{number:.1e}") } else { format!("{number:.decimals$}") }
}

/// From the unit that tables carry to base units, for differences.
pub fn factor(output: &Output, units: &Units) -> f64 {
    let (Shape::Quantity(of) | Shape::Range(of), Some(unit)) = (&output.shape, &output.unit) else { return 1.0 };
    units.difference(1.0, of, unit).unwrap_or(1.0)
}

pub fn quantity(value: &Value) -> Option<Quantity> {
    match value {
        Value::Quantity(quantity) => Some(quantity.clone()),
        Value::Number(number) => Some(Quantity::number(*number)),
        _ => None,
    }
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

fn in_unit(quantity: &Quantity, unit: Option<&str>, units: &Units) -> (f64, String) {
    match unit.and_then(|unit| Some((units.convert(quantity, unit).ok()?, unit))) {
        Some((value, unit)) => (value, unit.to_owned()),
        None => {
            let (value, unit) = units.plain(quantity);
            (value, if unit.is_empty() { "1".to_owned() } else { unit })
        }
    }
}
