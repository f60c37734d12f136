//! Values as cells of a table: bare numbers under a heading that names the unit, with all their digits.

use std::io::Write;

use super::{Output, Shape, Sheet};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};

/// A value as it stands under a heading of that unit; without one, numbers carry theirs.
pub fn cell(value: &Value, unit: Option<&str>, units: &Units) -> String {
    match value {
        Value::Unknown => String::new(),
        Value::Truth(truth) => truth.to_string(),
        Value::Number(number) => digits(*number),
        Value::Quantity(quantity) => one(quantity, unit, units),
        Value::Range(low, high) => format!("{}..{}", one(low, unit, units), one(high, unit, units)),
        Value::Text(text) => text.clone(),
        Value::List(items) => items.iter().map(|item| cell(item, unit, units)).collect::<Vec<_>>().join("; "),
        Value::Record(fields) => {
            let entries = fields.iter().map(|(name, value)| format!("{name}={}", cell(value, None, units)));
            entries.collect::<Vec<_>>().join(", ")
        }
    }
}

fn one(quantity: &Quantity, unit: Option<&str>, units: &Units) -> String {
    if let Some(value) = unit.and_then(|unit| units.convert(quantity, unit).ok()) {
        return digits(value);
    }
    let (value, unit) = units.plain(quantity);
    if unit.is_empty() { digits(value) } else { format!("{} {unit}", digits(value)) }
}

fn digits(value: f64) -> String {
    let mut to = Vec::new();
    write_digits(value, &mut to);
    String::from_utf8(to).unwrap_or_default()
}

/// The shortest decimal that means just this number.
pub(super) fn write_digits(value: f64, to: &mut Vec<u8>) {
    let size = value.abs();
    if (1e-4..1e15).contains(&size) {
        // The same digits in a fraction of the time; for whole numbers with `.0` behind them.
        let mut buffer = zmij::Buffer::new();
        let text = buffer.format_finite(value);
        to.extend_from_slice(text.strip_suffix(".0").unwrap_or(text).as_bytes());
        return;
    }
    // Memory takes all it is given.
    let _ = if size != 0.0 && !(1e-6..1e16).contains(&size) { write!(to, "{value:e}") } else { write!(to, "{value}") };
}

impl Output {
    /// The heading of its column: `volume [L]`.
    pub fn heading(&self, name: &str) -> String {
        match (&self.unit, &self.shape) {
            (Some(unit), Shape::Quantity(_) | Shape::Range(_)) => format!("{name} [{unit}]"),
            _ => name.to_owned(),
        }
    }
}

impl Sheet {
    /// The heading of a column of inputs. One that has the name of an output says that it was given.
    pub fn given_heading(&self, heading: &super::Heading) -> String {
        let given = if self.outputs.contains_key(&heading.name) { "given " } else { "" };
        match &heading.unit {
            Some(unit) => format!("{given}{} [{unit}]", heading.name),
            None => format!("{given}{}", heading.name),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_mean_the_number_and_are_as_few_as_those_of_the_standard_library() {
        let mut bits = 1u64;
        for round in 0..200_000u32 {
            // Any numbers (Marsaglia's xorshift), and short ones at every power of ten.
            bits ^= bits << 13;
            bits ^= bits >> 7;
            bits ^= bits << 17;
            let short = f64::from(round % 1000) * 10f64.powi((round / 1000 % 40) as i32 - 20);
            let within = f64::from_bits((bits >> 12) | 0x3ff0_0000_0000_0000) * 10f64.powi((round % 21) as i32 - 5);
            for value in [f64::from_bits(bits), short, -short, within, -within].into_iter().filter(|one| !one.is_nan())
            {
                let size = value.abs();
                let plain = size == 0.0 || (1e-6..1e16).contains(&size);
                let expected = if plain { format!("{value}") } else { format!("{value:e}") };
                let digits = digits(value);
                // Of two decimals at the same distance it may be the other one, as in 168088263748011.125.
                assert_eq!(digits.len(), expected.len(), "{digits} {expected}");
                assert_eq!(digits.parse().map(f64::to_bits), Ok(value.to_bits()), "{digits} {expected}");
            }
        }
    }
}
