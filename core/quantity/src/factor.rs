//! Factors as expressions of definitions: `0.45359237 * 9.80665 * 0.3048`, `pi / 180`, `1 / (0.3048 * 12)`.
//!
//! A factor is never stored as a rounded decimal; whoever checks a unit file sees the definitions it was made of.

/// The value of a factor, or what is wrong with it.
pub(super) fn evaluate(text: &str) -> Result<f64, String> {
    let mut reader = Reader { rest: text.trim_start() };
    let value = reader.product(0)?;
    if !reader.rest.is_empty() {
        return Err(format!("`{}` can't follow here", reader.rest));
    }
    if value.is_finite() { Ok(value) } else { Err(format!("`{text}` is not a finite number")) }
}

struct Reader<'a> {
    rest: &'a str,
}

impl Reader<'_> {
    fn product(&mut self, depth: usize) -> Result<f64, String> {
        let mut value = self.number(depth)?;
        loop {
            if self.take('*') {
                value *= self.number(depth)?;
            } else if self.take('/') {
                value /= self.number(depth)?;
            } else {
                return Ok(value);
            }
        }
    }

    fn number(&mut self, depth: usize) -> Result<f64, String> {
        if depth > 8 {
            return Err("brackets are nested too deeply".to_owned());
        }
        if self.take('-') {
            return Ok(-self.number(depth + 1)?);
        }
        if self.take('(') {
            let value = self.product(depth + 1)?;
            return if self.take(')') { Ok(value) } else { Err("a closing bracket is missing".to_owned()) };
        }
        let end = self.rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '.').unwrap_or(self.rest.len());
        // The sign of an exponent belongs to the number: 1e-6.
        let end = match self.rest[end..].strip_prefix('-') {
            Some(after) if self.rest[..end].ends_with(['e', 'E']) => {
                end + 1 + after.find(|c: char| !c.is_ascii_digit()).unwrap_or(after.len())
            }
            _ => end,
        };
        let word = &self.rest[..end];
        let value = match word {
            "pi" => std::f64::consts::PI,
            _ if word.starts_with(|c: char| c.is_ascii_digit() || c == '.') => {
                word.parse().map_err(|_| format!("`{word}` is not a number"))?
            }
            "" => return Err("a number is missing".to_owned()),
            _ => return Err(format!("`{word}` is neither a number nor `pi`")),
        };
        self.rest = self.rest[end..].trim_start();
        Ok(value)
    }

    fn take(&mut self, token: char) -> bool {
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

    #[test]
    fn a_factor_is_the_product_of_its_definitions() {
        assert_eq!(evaluate("1"), Ok(1.0));
        assert_eq!(evaluate("0.45359237 * 9.80665"), Ok(0.45359237 * 9.80665));
        assert_eq!(evaluate("5 / 9"), Ok(5.0 / 9.0));
        assert_eq!(evaluate("1 / (4 * 2)"), Ok(0.125));
        assert_eq!(evaluate("pi / 180"), Ok(std::f64::consts::PI / 180.0));
        assert_eq!(evaluate("1e-6"), Ok(1e-6));
        assert_eq!(evaluate("-459.67"), Ok(-459.67));
    }

    #[test]
    fn what_is_not_a_factor_is_refused() {
        for text in ["", "x", "1 +", "1 2", "1 /", "1 / 0", "0 / 0", "(1", "1..2", "nan", "inf", "1e999", "1e-", "2 pi"]
        {
            assert!(evaluate(text).is_err(), "{text}");
        }
        assert!(evaluate(&"(".repeat(10_000)).is_err());
        assert!(evaluate(&"-".repeat(10_000)).is_err());
    }
}
