//! Numbers of one unit, read fast: a column of a table.

use super::lookup::Found;
use super::{Dimension, Name, Quantity, ReadFault, Units, Written};
use crate::value::Value;

/// What a plain number means in one unit of one quantity.
#[derive(Clone, Debug)]
pub struct Scale {
    of: Name,
    dimension: Dimension,
    point: bool,
    plain: bool,
    whole: bool,
    lowest: Option<f64>,
    factor: f64,
    shift: f64,
    symbol: Name,
}

impl Units {
    /// The scale of a quantity in a unit; of none, if that quantity can do without.
    pub fn scale(&self, of: &str, unit: &str) -> Result<Scale, ReadFault> {
        let Found { family, unit, of } = self.resolve(unit, Some(of), 0..unit.len())?;
        Ok(Scale {
            of: of.unwrap_or(family.name),
            dimension: family.dimension,
            point: family.point,
            plain: family.plain,
            whole: family.whole,
            lowest: family.lowest,
            factor: unit.factor,
            shift: unit.shift,
            symbol: if &*unit.symbol == "1" { "".into() } else { unit.symbol },
        })
    }
}

impl Scale {
    /// That of plain numbers.
    pub fn plain() -> Self {
        Self {
            of: "".into(),
            dimension: Dimension::NONE,
            point: false,
            plain: true,
            whole: false,
            lowest: None,
            factor: 1.0,
            shift: 0.0,
            symbol: "".into(),
        }
    }

    /// A number of the unit in base units.
    pub fn to_si(&self, value: f64) -> f64 {
        (value + self.shift) * self.factor
    }

    pub fn from_si(&self, si: f64) -> f64 {
        si / self.factor - self.shift
    }

    /// Symbol of the unit; empty for a plain number.
    pub fn symbol(&self) -> &Name {
        &self.symbol
    }

    /// A value in base units as a quantity of this scale.
    pub fn quantity(&self, si: f64) -> Quantity {
        let of = if self.plain { None } else { Some(self.of) };
        Quantity { si, dimension: self.dimension, point: self.point, of, written: None }
    }

    /// A number written in the plainest way, and nothing around it; `None` where [`Units::read`] has to look closer.
    pub fn read(&self, text: &str) -> Option<Value> {
        let (si, value) = self.numbers(text)?;
        let decimals = text.find('.').map_or(0, |at| text.len() - at - 1);
        Some(match self.written_in() {
            None => Value::Number(si),
            Some(unit) => Value::Quantity(Quantity {
                si,
                dimension: self.dimension,
                point: self.point,
                of: Some(self.of),
                written: Some(Written { value, unit: *unit, decimals: decimals as u8 }),
            }),
        })
    }

    /// The same in base units, and as it was written.
    pub fn numbers(&self, text: &str) -> Option<(f64, f64)> {
        let digits = text.strip_prefix('-').unwrap_or(text);
        let point = digits.find('.');
        let decimals = point.map_or(0, |at| digits.len() - at - 1);
        // More digits than a number holds would be rounded here and there.
        let short = digits.len() <= 16 && point != Some(0) && (point.is_none() || decimals > 0);
        if !short || !digits.bytes().all(|c| c.is_ascii_digit() || c == b'.') {
            return None;
        }
        let value: f64 = text.parse().ok()?;
        // A written zero carries no sign.
        let value = value + 0.0;
        let si = (value + self.shift) * self.factor;
        let low = self.lowest.is_some_and(|lowest| si < lowest);
        if !si.is_finite() || low || (self.whole && si.fract() != 0.0) {
            return None;
        }
        Some((si, value))
    }

    /// The unit that values keep as the one in which they were written; plain numbers keep none.
    pub fn written_in(&self) -> Option<&Name> {
        (!self.plain && !self.whole).then_some(&self.symbol)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_reads_as_the_slow_reader_does_or_leaves_it_to_that() {
        let units = Units::standard();
        let texts = [
            "7",
            "7.0",
            "-40",
            "0",
            "-0",
            "-0.0",
            "38.25",
            "1000000",
            "0.1",
            "12345.678901",
            "7.",
            ".5",
            "",
            "-",
            "1e3",
            "1,5",
            " 7",
            "7 L",
            "−3",
            "1 000",
            "nan",
            "inf",
            "+3",
            "1.2.3",
            "12345678901234567890",
            "-300",
            "2.5",
        ];
        let mut fast = 0;
        for (of, unit) in
            [("temperature", "degC"), ("temperature", "degF"), ("volume", "mL"), ("ratio", "%"), ("count", "1")]
        {
            let scale = units.scale(of, unit).expect("a unit of it");
            for text in texts {
                let Some(value) = scale.read(text) else { continue };
                fast += 1;
                let slow =
                    units.read(text, Some(of), Some(unit)).unwrap_or_else(|fault| panic!("{text} {unit}: {fault}"));
                let same = match (&value, &slow) {
                    (Value::Quantity(one), Value::Quantity(other)) => {
                        one == other && one.of == other.of && one.written == other.written
                    }
                    // Of a plain number the sheet keeps no more than the number.
                    (Value::Number(one), Value::Quantity(other)) => *one == other.si,
                    (one, other) => one == other,
                };
                assert!(same, "{text} {unit}: {value:?} {slow:?}");
            }
        }
        assert!(fast > 40, "{fast}");
        assert!(units.scale("volume", "kg").is_err());
    }
}
