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

    /// From base units to this scale.
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
        let (si, value) = self.numbers(text.as_bytes())?;
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
    fn numbers(&self, text: &[u8]) -> Option<(f64, f64)> {
        let value = plainly_written(text)?;
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
    fn written_in(&self) -> Option<&Name> {
        (!self.plain && !self.whole).then_some(&self.symbol)
    }
}

/// Powers of ten that a number holds exactly, as many as a number of 15 digits can have decimals.
const TENS: [f64; 16] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// Up to 15 digits, with a point among them or none, and perhaps a minus before them. The digits and the power of ten are
/// then exact, and their quotient is the number next to what is written (Clinger 1990, How to read floating point numbers
/// accurately).
fn plainly_written(text: &[u8]) -> Option<f64> {
    let digits = text.strip_prefix(b"-").unwrap_or(text);
    let (mut number, mut point) = (0u64, None);
    for (at, letter) in digits.iter().enumerate() {
        match letter {
            b'0'..=b'9' => number = number.wrapping_mul(10).wrapping_add(u64::from(letter - b'0')),
            b'.' if point.is_none() && at > 0 => point = Some(at),
            _ => return None,
        }
    }
    let decimals = match point {
        Some(at) => digits.len() - at - 1,
        None => 0,
    };
    let count = digits.len() - usize::from(point.is_some());
    if count == 0 || count > 15 || (point.is_some() && decimals == 0) {
        return None;
    }
    let size = number as f64 / TENS[decimals];
    Some(if digits.len() < text.len() { -size } else { size })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_comes_to_the_number_that_the_standard_library_reads() {
        let mut seed = 1u64;
        for round in 0..200_000 {
            // Marsaglia's xorshift.
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            let digits = (seed % 10u64.pow(1 + round % 15)).to_string();
            let at = (seed >> 40) as usize % digits.len();
            let sign = if seed >> 63 == 1 { "-" } else { "" };
            let text =
                if at == 0 { format!("{sign}{digits}") } else { format!("{sign}{}.{}", &digits[..at], &digits[at..]) };
            let read = plainly_written(text.as_bytes()).map(f64::to_bits);
            assert_eq!(read, text.parse().ok().map(f64::to_bits), "{text}");
        }
        for text in ["", "-", ".5", "5.", "1.2.3", "1e3", "+1", "--1", "1234567890123456", "1 ", "\u{663}"] {
            assert_eq!(plainly_written(text.as_bytes()), None, "{text}");
        }
    }

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
