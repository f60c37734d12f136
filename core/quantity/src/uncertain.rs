//! Values with their uncertainty: reading how large it is, and rounding to what it leaves.

use super::fault::ReadFault;
use super::number;
use super::read::value_in;
use super::round::{at_place, leading, significant};
use super::{Quantity, Style, Units};

/// A number at the start of a text.
#[derive(Clone, Copy, Debug)]
pub struct Leading {
    /// The number.
    pub value: f64,
    /// Digits after its point.
    pub decimals: u8,
    /// Where it ends.
    pub end: usize,
}

/// The number that a text starts with, if it is one that can be read.
pub fn starts_with_number(text: &str) -> Option<Leading> {
    let number = number::read(text, 0).ok()?;
    Some(Leading { value: number.value, decimals: number.decimals, end: number.end })
}

/// What a result may be, in base units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertain {
    /// Standard uncertainty, in base units.
    pub standard: f64,
    /// Lower end of the interval, in base units.
    pub low: f64,
    /// Upper end of the interval, in base units.
    pub high: f64,
}

/// The same for people.
#[derive(Clone, Debug, PartialEq)]
pub struct ShownUncertain {
    /// The value with as many digits as its uncertainty allows, and its unit.
    pub value: String,
    /// Its standard uncertainty.
    pub standard: String,
    /// From where to where.
    pub interval: String,
}

impl Units {
    /// A difference of two values of a quantity, in base units: `1.5 degC` of a temperature are 1.5 K.
    pub fn difference(&self, number: f64, of: &str, unit: &str) -> Result<f64, ReadFault> {
        let at = 0..unit.len();
        let found = match self.resolve(unit, Some(of), at.clone()) {
            Ok(found) => found,
            Err(fault) => match self.asked(of, at.clone())?.difference.as_deref() {
                Some(difference) => self.resolve(unit, Some(difference), at).map_err(|_| fault)?,
                None => return Err(fault),
            },
        };
        Ok(number * found.unit.factor)
    }

    /// A standard uncertainty in the unit in which the value was written, with two digits.
    pub fn show_spread(&self, quantity: &Quantity, standard: f64) -> String {
        let (_, symbol) = self.plain(quantity);
        let standard = standard / self.unit_for(quantity, &symbol).map_or(1.0, |unit| unit.factor);
        let number = leading(standard).map_or_else(|| "0".to_owned(), |(place, _)| at_place(standard, place - 1));
        if symbol.is_empty() { number } else { format!("{number} {symbol}") }
    }

    /// In the first unit of the style: the standard uncertainty with two digits, and all else to the same place. Source:
    /// JCGM 100:2008 (GUM) 7.2.6, from memory.
    pub fn show_uncertain(&self, quantity: &Quantity, uncertain: &Uncertain, style: &Style) -> ShownUncertain {
        let symbol = self
            .family_of(quantity)
            .and_then(|family| self.shown_units(&family.name, style).first().copied())
            .unwrap_or_else(|| "1".into());
        let unit = self.unit_for(quantity, &symbol);
        let factor = unit.map_or(1.0, |unit| unit.factor);
        let of = |si: f64| {
            let other = Quantity { si, written: None, ..quantity.clone() };
            unit.map_or(si, |unit| value_in(&other, unit))
        };
        let standard = uncertain.standard / factor;
        // 0.0996 to two digits is 0.10, one place less.
        let rounded = leading(standard).map(|(place, _)| at_place(standard, place - 1));
        let place = rounded.and_then(|text| text.parse().ok()).and_then(leading).map(|(place, _)| place - 1);
        let number = |value: f64| place.map_or_else(|| significant(value, 6), |place| at_place(value, place));
        let with = |number: String| if &*symbol == "1" { number } else { format!("{number} {symbol}") };
        ShownUncertain {
            value: with(number(of(quantity.si))),
            standard: with(number(standard)),
            interval: with(format!("{}..{}", number(of(uncertain.low)), number(of(uncertain.high)))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::Value;

    #[test]
    fn everything_is_rounded_to_the_second_digit_of_the_uncertainty() {
        let units = Units::standard();
        let show = |text: &str, of: &str, standard: f64, half: f64, style: &Style| {
            let quantity = match units.read(text, Some(of), None) {
                Ok(Value::Quantity(quantity)) => quantity,
                other => panic!("{other:?}"),
            };
            let uncertain = Uncertain { standard, low: quantity.si - half, high: quantity.si + half };
            let shown = units.show_uncertain(&quantity, &uncertain, style);
            (shown.value, shown.standard, shown.interval)
        };
        let all = |a: &str, b: &str, c: &str| (a.to_owned(), b.to_owned(), c.to_owned());
        let metric = Style::default();
        let litres = show("6.8734 L", "volume", 2.99e-5, 5e-5, &metric);
        assert_eq!(litres, all("6.873 L", "0.030 L", "6.823..6.923 L"));
        assert_eq!(show("6.8734 L", "volume", 9.96e-5, 2e-4, &metric), all("6.87 L", "0.10 L", "6.67..7.07 L"));
        assert_eq!(show("8333 N", "force", 984.0, 1900.0, &metric), all("8330 N", "980 N", "6430..10230 N"));
        let inch = Style::new(crate::System::Inch, crate::Purpose::Reading);
        assert_eq!(show("38.2 degC", "temperature", 0.5, 1.0, &inch), all("100.76 °F", "0.90 °F", "98.96..102.56 °F"));
        assert_eq!(show("0.5", "ratio", 0.0, 0.0, &metric).1, "0 %");
    }
}
