//! Numbers as people type them.

use standpipe_quantity::{Quantity, Units};

use crate::draw::Draws;

/// A number in a unit, rounded to a step of the scale; to four figures where there is none. `step` in the unit.
pub fn typed(value: f64, step: Option<f64>) -> String {
    match step.filter(|step| *step > 0.0) {
        Some(step) => {
            let decimals = (-libm::floor(libm::log10(step) + 1e-9)).clamp(0.0, 6.0) as usize;
            unsigned_zero(format!("{:.decimals$}", libm::round(value / step) * step))
        }
        None => {
            let first = if value == 0.0 { 0.0 } else { libm::floor(libm::log10(value.abs())) };
            let decimals = (3.0 - first).clamp(0.0, 6.0) as usize;
            unsigned_zero(format!("{value:.decimals$}"))
        }
    }
}

fn unsigned_zero(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|one| matches!(one, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

/// The same number with one of its digits read as a neighbour.
pub fn misread(text: &str, draws: &Draws, name: &str) -> String {
    let digits: Vec<usize> =
        text.bytes().enumerate().filter(|(_, byte)| byte.is_ascii_digit()).map(|(at, _)| at).collect();
    if digits.is_empty() {
        return text.to_owned();
    }
    let at = digits[draws.one_of(digits.len(), name, "which digit")];
    let digit = text.as_bytes()[at] - b'0';
    let up = draws.uniform(name, "up or down") < 0.5;
    let read = if up { (digit + 1) % 10 } else { (digit + 9) % 10 };
    format!("{}{read}{}", &text[..at], &text[at + 1..])
}

/// A step of a scale as a difference in a unit, near a value.
pub fn step_in(units: &Units, near: &Quantity, step: &Quantity, unit: &str) -> Option<f64> {
    let further = Quantity { si: near.si + step.si, written: None, ..near.clone() };
    Some((units.convert(&further, unit).ok()? - units.convert(near, unit).ok()?).abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_typed_as_scales_show_them() {
        assert_eq!(typed(37.2468, Some(0.1)), "37.2");
        assert_eq!(typed(3.0249, Some(0.05)), "3.00");
        assert_eq!(typed(-0.04, Some(0.1)), "0.0");
        assert_eq!(typed(712.3, Some(10.0)), "710");
        assert_eq!(typed(4.123_456, None), "4.123");
        assert_eq!(typed(0.0, None), "0.000");
    }

    #[test]
    fn a_misread_number_differs_in_one_digit() {
        for run in 0..200 {
            let draws = Draws { seed: 1, run };
            let read = misread("148.05", &draws, "a");
            let other = read.bytes().zip("148.05".bytes()).filter(|(a, b)| a != b).count();
            assert!(other == 1 && read.len() == 6 && read.contains('.'), "{read}");
        }
        assert_eq!(misread("", &Draws { seed: 1, run: 1 }, "a"), "");
    }
}
