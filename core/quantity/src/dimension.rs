//! Vectors of base exponents.

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use standpipe_diagnostic::nearest;

/// Exponents of length, mass, time, temperature and money. Angles are numbers, as in the SI.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub struct Dimension(pub [i8; 5]);

/// Names of the bases as unit files write them, in the order of the exponents.
const BASES: [&str; 5] = ["length", "mass", "time", "temperature", "money"];

/// Position and symbol of each base unit in the order in which they are printed: `kg·m²/s²`.
const PRINTED: [(usize, &str); 5] = [(1, "kg"), (0, "m"), (2, "s"), (3, "K"), (4, "¤")];

impl Dimension {
    /// That of a number.
    pub const NONE: Dimension = Dimension([0; 5]);

    /// Whether it is that of a number.
    pub fn is_none(&self) -> bool {
        *self == Self::NONE
    }

    /// `None` where an exponent would leave what an `i8` holds; only a runaway script gets there.
    pub fn mul(&self, other: &Dimension) -> Option<Dimension> {
        self.with(other, i8::checked_add)
    }

    /// That of a quotient; `None` beyond what exponents can hold.
    pub fn div(&self, other: &Dimension) -> Option<Dimension> {
        self.with(other, i8::checked_sub)
    }

    /// Every exponent times `power`; `None` unless all of them come out whole (the square root of a length does not).
    pub fn pow(&self, power: f64) -> Option<Dimension> {
        let mut out = [0i8; 5];
        for (to, from) in out.iter_mut().zip(self.0) {
            let exponent = f64::from(from) * power;
            if exponent.fract() != 0.0 || exponent.abs() > f64::from(i8::MAX) {
                return None;
            }
            *to = exponent as i8;
        }
        Some(Dimension(out))
    }

    fn with(&self, other: &Dimension, combine: fn(i8, i8) -> Option<i8>) -> Option<Dimension> {
        let mut out = [0i8; 5];
        for (index, to) in out.iter_mut().enumerate() {
            *to = combine(self.0[index], other.0[index])?;
        }
        Some(Dimension(out))
    }

    /// Reads `mass * length^2 / time^2`; `1` stands for no dimension, brackets are allowed.
    pub fn parse(text: &str) -> Result<Dimension, String> {
        let mut reader = Reader { rest: text.trim_start() };
        let dimension = reader.product(0)?;
        if reader.rest.is_empty() {
            Ok(dimension)
        } else {
            Err(format!("`{}` can't follow here; write e.g. `mass * length^2 / time^2`", reader.rest))
        }
    }

    /// Reads what [`Display`](fmt::Display) prints: `kg·m²/(s·K)`.
    pub fn of_printed(text: &str) -> Option<Dimension> {
        let (above, below) = text.split_once('/').unwrap_or((text, ""));
        let below = below.trim_start_matches('(').trim_end_matches(')');
        let mut out = Dimension::NONE;
        for (side, sign) in [(above, 1), (below, -1)] {
            for part in side.split('·').filter(|part| !part.is_empty() && *part != "1") {
                let end = part.find(|c| digit(c).is_some()).unwrap_or(part.len());
                let (symbol, power) = part.split_at(end);
                let (index, _) = PRINTED.iter().find(|(_, known)| *known == symbol)?;
                let digits: String = power.chars().map(digit).collect::<Option<_>>()?;
                let power: i16 = if digits.is_empty() { 1 } else { digits.parse().ok()? };
                out.0[*index] = i8::try_from(power * sign).ok()?;
            }
        }
        Some(out)
    }
}

/// Prints the coherent unit, `kg·m²/s²`; `1` without a dimension.
impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = |sign: i8| {
            let mut count = 0;
            let mut out = String::new();
            for (index, symbol) in PRINTED {
                let exponent = i16::from(self.0[index]) * i16::from(sign);
                if exponent > 0 {
                    if count > 0 {
                        out.push('·');
                    }
                    count += 1;
                    out.push_str(symbol);
                    if exponent > 1 {
                        out.extend(exponent.to_string().chars().map(superscript));
                    }
                }
            }
            (count, out)
        };
        let (above, numerator) = side(1);
        let (below, denominator) = side(-1);
        f.write_str(if above == 0 { "1" } else { &numerator })?;
        match below {
            0 => Ok(()),
            1 => write!(f, "/{denominator}"),
            _ => write!(f, "/({denominator})"),
        }
    }
}

fn superscript(digit: char) -> char {
    match digit {
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        other => other.to_digit(10).and_then(|d| char::from_u32(0x2070 + d)).unwrap_or(other),
    }
}

/// The digit that a superscript stands for.
fn digit(raised: char) -> Option<char> {
    ('0'..='9').find(|digit| superscript(*digit) == raised)
}

struct Reader<'a> {
    rest: &'a str,
}

impl Reader<'_> {
    fn product(&mut self, depth: usize) -> Result<Dimension, String> {
        let mut out = self.power(depth)?;
        loop {
            let combine = if self.take("*") || self.take("·") {
                Dimension::mul
            } else if self.take("/") {
                Dimension::div
            } else {
                return Ok(out);
            };
            out = combine(&out, &self.power(depth)?).ok_or("an exponent is too large")?;
        }
    }

    fn power(&mut self, depth: usize) -> Result<Dimension, String> {
        let base = self.base(depth)?;
        if !self.take("^") {
            return Ok(base);
        }
        let end = self.rest.find(|c: char| !c.is_ascii_digit() && c != '-').unwrap_or(self.rest.len());
        let written = &self.rest[..end];
        let exponent: i8 = written.parse().map_err(|_| format!("`^{written}` is not a whole exponent"))?;
        self.rest = self.rest[end..].trim_start();
        base.pow(f64::from(exponent)).ok_or_else(|| "an exponent is too large".to_owned())
    }

    fn base(&mut self, depth: usize) -> Result<Dimension, String> {
        if depth > 8 {
            return Err("brackets are nested too deeply".to_owned());
        }
        if self.take("(") {
            let inner = self.product(depth + 1)?;
            return if self.take(")") { Ok(inner) } else { Err("a closing bracket is missing".to_owned()) };
        }
        if self.take("1") {
            return Ok(Dimension::NONE);
        }
        let end = self.rest.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(self.rest.len());
        let name = &self.rest[..end];
        let Some(index) = BASES.iter().position(|base| *base == name) else {
            let found = if name.is_empty() { self.rest.chars().take(1).collect() } else { name.to_owned() };
            let found = if found.is_empty() { "nothing".to_owned() } else { format!("`{found}`") };
            let meant = nearest(name, BASES).map_or(String::new(), |base| format!("; did you mean `{base}`?"));
            return Err(format!("{found} where one of {} is expected{meant}", BASES.join(", ")));
        };
        self.rest = self.rest[end..].trim_start();
        let mut out = Dimension::NONE;
        out.0[index] = 1;
        Ok(out)
    }

    fn take(&mut self, token: &str) -> bool {
        match self.rest.strip_prefix(token) {
            Some(rest) => {
                self.rest = rest.trim_start();
                true
            }
            None => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dimension(text: &str) -> Dimension {
        Dimension::parse(text).unwrap()
    }

    #[test]
    fn a_dimension_is_read_and_printed() {
        for (text, printed) in [
            ("mass * length^2 / time^2", "kg·m²/s²"),
            ("mass / length / time", "kg/(m·s)"),
            ("mass / (length * time)", "kg/(m·s)"),
            ("1 / time", "1/s"),
            ("1", "1"),
            ("time^-1", "1/s"),
            ("length^12", "m¹²"),
            ("money / time", "¤/s"),
            ("temperature", "K"),
        ] {
            assert_eq!(dimension(text).to_string(), printed, "{text}");
            assert_eq!(Dimension::of_printed(printed), Some(dimension(text)), "{printed}");
        }
    }

    #[test]
    fn a_faulty_dimension_says_what_it_stumbled_over() {
        for (text, expected) in [
            ("", "nothing where one of"),
            ("weight", "`weight` where one of length, mass, time, temperature, money is expected"),
            ("mass length", "`length` can't follow here"),
            ("mass^x", "is not a whole exponent"),
            ("length^1000", "is not a whole exponent"),
            ("(mass", "bracket is missing"),
            ("mass *", "nothing where"),
            ("length^100 * length^100", "too large"),
        ] {
            let message = Dimension::parse(text).unwrap_err();
            assert!(message.contains(expected), "{text}: {message}");
        }
        assert!(Dimension::parse(&"(".repeat(10_000)).is_err());
    }

    #[test]
    fn roots_must_come_out_whole() {
        assert_eq!(dimension("length^2").pow(0.5), Some(dimension("length")));
        assert_eq!(dimension("length^3").pow(1.0 / 3.0), Some(dimension("length")));
        assert_eq!(dimension("length").pow(0.5), None);
        assert_eq!(dimension("length").pow(f64::NAN), None);
        assert_eq!(dimension("length").pow(500.0), None);
    }
}
