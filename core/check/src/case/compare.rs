//! Whether a value is the one that was expected, and how far it is off.

use super::Line;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity, Style, Units, close};

/// How far a value may lie from what is expected.
#[derive(Clone, Debug)]
pub enum Tolerance {
    /// But for rounding.
    None,
    /// A share of what is expected.
    Share(f64, String),
    /// A number with a unit; of which quantity, only the expected value tells.
    Written(String),
}

impl Tolerance {
    pub fn read(text: Option<&str>) -> Self {
        match text {
            None => Self::None,
            Some(text) => match text.trim().parse() {
                Ok(share) => Self::Share(share, text.trim().to_owned()),
                Err(_) => Self::Written(text.trim().to_owned()),
            },
        }
    }

    /// In base units, around an expected value.
    fn around(&self, expected: &Quantity, units: &Units) -> Option<f64> {
        match self {
            Self::None => None,
            Self::Share(share, _) => Some(share * expected.si.abs()),
            Self::Written(text) => {
                // A tolerance is a difference: 0.5 degC of a temperature is half a degree and no point on the scale.
                let family = expected.of.as_ref().and_then(|of| units.family(of));
                let asked = family.map(|family| family.difference.as_ref().unwrap_or(&family.name));
                match units.read(text, asked.map(|name| &**name), None) {
                    Ok(Value::Quantity(wide)) if wide.dimension == expected.dimension => Some(wide.si.abs()),
                    Ok(Value::Number(wide)) if expected.dimension.is_none() => Some(wide.abs()),
                    // One tolerance for several outputs is for those of its kind.
                    _ => None,
                }
            }
        }
    }

    fn written(&self) -> Option<String> {
        match self {
            Self::None => None,
            Self::Share(_, text) | Self::Written(text) => Some(text.clone()),
        }
    }
}

/// Digits of what is shown of a case: enough to see where two values part.
const DIGITS: u8 = 9;

pub fn line(
    what: &str,
    expected: &Value,
    found: Option<&Value>,
    tolerance: &Tolerance,
    units: &Units,
    place: &Place,
) -> Line {
    let (holds, difference) = match found {
        Some(found) => agree(found, expected, tolerance, units),
        None => (false, None),
    };
    Line {
        what: what.to_owned(),
        expected: as_written(expected).unwrap_or_else(|| shown(expected, expected, units)),
        found: found.map_or_else(|| "nothing".to_owned(), |found| shown(found, expected, units)),
        difference,
        // Words are the same or they are not.
        tolerance: tolerance.written().filter(|_| !matches!(expected, Value::Text(_) | Value::Truth(_))),
        holds,
        place: place.clone(),
    }
}

/// A quantity as it stands in the case.
fn as_written(value: &Value) -> Option<String> {
    match value {
        Value::Quantity(quantity) => {
            let written = quantity.written.as_ref()?;
            Some(format!("{} {}", written.value, written.unit).trim_end().to_owned())
        }
        _ => None,
    }
}

/// `20.5000 L` says no more than `20.5 L`.
fn without_zeros(text: &str) -> String {
    let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
    let number = if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number };
    format!("{number} {unit}").trim_end().to_owned()
}

/// In the unit in which the expected value is written.
fn shown(value: &Value, like: &Value, units: &Units) -> String {
    let style = Style { purpose: Purpose::Computed { digits: DIGITS }, digits: DIGITS, ..Style::default() };
    let one = |quantity: &Quantity, like: &Quantity| {
        let bare = Quantity { written: None, ..quantity.clone() };
        let unit = like.written.as_ref().map(|written| written.unit);
        let text = unit.and_then(|unit| units.show_in(&bare, &unit, &style));
        without_zeros(&text.unwrap_or_else(|| units.show(&bare, &style)))
    };
    match (value, like) {
        (Value::Quantity(value), Value::Quantity(like)) => one(value, like),
        (Value::Range(low, high), Value::Range(like_low, like_high)) => {
            format!("{} to {}", one(low, like_low), one(high, like_high))
        }
        (Value::Number(number), _) => number.to_string(),
        (Value::List(items), Value::List(likes)) => {
            let first = likes.first();
            let items = items
                .iter()
                .enumerate()
                .map(|(index, item)| shown(item, likes.get(index).or(first).unwrap_or(item), units));
            format!("[{}]", items.collect::<Vec<_>>().join(", "))
        }
        (Value::Record(fields), Value::Record(likes)) => {
            let fields = fields
                .iter()
                .map(|(name, field)| format!("{name}: {}", shown(field, likes.get(name).unwrap_or(field), units)));
            fields.collect::<Vec<_>>().join(", ")
        }
        (value, _) => units.show_value(value, &style),
    }
}

/// Whether it is near enough, and how far it is off.
type Agreed = (bool, Option<String>);

fn agree(found: &Value, expected: &Value, tolerance: &Tolerance, units: &Units) -> Agreed {
    match (found, expected) {
        (Value::Number(a), Value::Number(b)) => {
            measured(&Quantity::number(*a), &Quantity::number(*b), tolerance, units)
        }
        (Value::Quantity(a), Value::Quantity(b)) => measured(a, b, tolerance, units),
        (Value::Range(a, b), Value::Range(c, d)) => {
            let (low, high) = (measured(a, c, tolerance, units), measured(b, d, tolerance, units));
            both(low, high)
        }
        (Value::List(a), Value::List(b)) if a.len() == b.len() => {
            a.iter().zip(b).map(|(a, b)| agree(a, b, tolerance, units)).reduce(both).unwrap_or((true, None))
        }
        (Value::Record(a), Value::Record(b)) => b
            .iter()
            .map(|(name, b)| match a.get(name) {
                Some(a) => agree(a, b, tolerance, units),
                None => (false, None),
            })
            .reduce(both)
            .unwrap_or((true, None)),
        (a, b) => (a == b, None),
    }
}

/// The first that does not hold speaks for both.
fn both(a: Agreed, b: Agreed) -> Agreed {
    if a.0 { b } else { a }
}

fn measured(found: &Quantity, expected: &Quantity, tolerance: &Tolerance, units: &Units) -> Agreed {
    if found.dimension != expected.dimension || found.point != expected.point {
        return (false, None);
    }
    let gap = found.si - expected.si;
    let holds = match tolerance.around(expected, units) {
        Some(wide) => gap.abs() <= wide,
        None => close(found.si, expected.si),
    };
    let off = !close(found.si, expected.si);
    (holds, off.then(|| difference(found, expected, units)))
}

fn difference(found: &Quantity, expected: &Quantity, units: &Units) -> String {
    let number = |value: f64| format!("{value:+.3e}");
    let Some(written) = expected.written.as_ref().filter(|written| !written.unit.is_empty()) else {
        return number(found.si - expected.si);
    };
    match (units.convert(found, &written.unit), units.convert(expected, &written.unit)) {
        (Ok(a), Ok(b)) => format!("{} {}", number(a - b), written.unit),
        _ => number(found.si - expected.si),
    }
}
