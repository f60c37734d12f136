//! Rounding in decimal.
//!
//! Numbers are rounded from their first fourteen digits, half away from zero: what was written as 0.285 goes to 0.29, and
//! the rounding errors of a conversion never tip a value over an edge. Zero never carries a minus.

/// Which way to round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Toward {
    Nearest,
    Up,
    Down,
}

/// Power of ten of the first significant digit, and that digit; `None` for zero.
pub(super) fn leading(value: f64) -> Option<(i32, u8)> {
    let (digits, exponent) = decimal(value)?;
    Some((exponent, digits[0]))
}

/// Rounded to the digit that counts 10^place.
pub(super) fn at_place(value: f64, place: i32) -> String {
    at_place_toward(value, place, Toward::Nearest)
}

pub(super) fn at_place_toward(value: f64, place: i32, toward: Toward) -> String {
    let place = place.clamp(-40, 310);
    let Some((digits, exponent)) = decimal(value) else { return compose("0".to_owned(), false, place) };
    let keep = exponent - place + 1;
    let (kept, dropped) = match usize::try_from(keep) {
        Ok(keep) if keep <= digits.len() => digits.split_at(keep),
        Ok(_) => (&digits[..], &[][..]),
        Err(_) => (&[][..], &digits[..]),
    };
    let negative = value < 0.0;
    let any = dropped.iter().any(|digit| *digit != 0);
    let away = match toward {
        Toward::Nearest => keep >= 0 && dropped.first().is_some_and(|digit| *digit >= 5),
        Toward::Up => any && !negative,
        Toward::Down => any && negative,
    };
    let mut number: Vec<u8> = kept.to_vec();
    number.resize(usize::try_from(keep).unwrap_or(0), 0);
    if away {
        let mut at = number.len();
        loop {
            if at == 0 {
                number.insert(0, 1);
                break;
            }
            at -= 1;
            if number[at] < 9 {
                number[at] += 1;
                break;
            }
            number[at] = 0;
        }
    }
    compose(number.into_iter().map(|digit| char::from(b'0' + digit)).collect(), negative, place)
}

/// Rounded to so many significant digits; whole numbers keep all their digits before the point.
pub(super) fn significant(value: f64, digits: u8) -> String {
    let digits = i32::from(digits.clamp(1, 15));
    let Some((exponent, _)) = leading(value) else { return "0".to_owned() };
    if !(-7..15).contains(&exponent) {
        return format!("{value:.*e}", (digits - 1) as usize);
    }
    let text = at_place(value, (exponent - digits + 1).min(0));
    // 9.996 to three digits is 10.0, not 10.00.
    match text.parse().ok().and_then(leading) {
        Some((grown, _)) if grown > exponent => at_place(value, (grown - digits + 1).min(0)),
        _ => text,
    }
}

/// Without zeros at the end of its decimals.
pub(super) fn trim_zeros(text: &str) -> &str {
    if text.contains('.') && !text.contains('e') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// The first fourteen significant digits, rounded, and the power of ten of the first.
fn decimal(value: f64) -> Option<(Vec<u8>, i32)> {
    if value == 0.0 || !value.is_finite() {
        return None;
    }
    let text = format!("{:.13e}", value.abs());
    let (mantissa, exponent) = text.split_once('e')?;
    let digits = mantissa.bytes().filter(u8::is_ascii_digit).map(|digit| digit - b'0').collect();
    Some((digits, exponent.parse().ok()?))
}

/// Digits that count 10^place each.
fn compose(digits: String, negative: bool, place: i32) -> String {
    let digits = digits.trim_start_matches('0');
    let sign = if negative && !digits.is_empty() { "-" } else { "" };
    if place >= 0 {
        return match digits {
            "" => "0".to_owned(),
            digits => format!("{sign}{digits}{}", "0".repeat(place as usize)),
        };
    }
    let decimals = place.unsigned_abs() as usize;
    let padded = format!("{digits:0>width$}", width = decimals + 1);
    let (whole, fraction) = padded.split_at(padded.len() - decimals);
    format!("{sign}{whole}.{fraction}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_kept_whatever_the_bits_say() {
        for (value, place, text) in [
            (9.490_725_638, -1, "9.5"),
            (7.006_774_6, -1, "7.0"),
            (0.285, -2, "0.29"),
            (2.5, 0, "3"),
            (-2.5, 0, "-3"),
            (0.1 + 0.2, -1, "0.3"),
            (0.999, -1, "1.0"),
            (999.96, -1, "1000.0"),
            (96_560.64, 2, "96600"),
            (0.04, -1, "0.0"),
            (-0.04, -1, "0.0"),
            (-0.0, 0, "0"),
            (0.05, -1, "0.1"),
            (0.004, -1, "0.0"),
            (40.0, 2, "0"),
            (60.0, 2, "100"),
            (4.0, 2, "0"),
            (1e300, 0, &format!("1{}", "0".repeat(300))),
        ] {
            assert_eq!(at_place(value, place), text, "{value} {place}");
        }
    }

    #[test]
    fn limits_are_rounded_one_way_but_not_by_noise() {
        assert_eq!(at_place_toward(96.8, 0, Toward::Up), "97");
        assert_eq!(at_place_toward(111.2, 0, Toward::Down), "111");
        assert_eq!(at_place_toward(95.000_000_000_000_01, 0, Toward::Up), "95");
        assert_eq!(at_place_toward(94.999_999_999_999_99, 0, Toward::Down), "95");
        assert_eq!(at_place_toward(-0.5, 0, Toward::Down), "-1");
        assert_eq!(at_place_toward(-0.5, 0, Toward::Up), "0");
        assert_eq!(at_place_toward(0.001, 0, Toward::Up), "1");
    }

    #[test]
    fn significant_digits() {
        for (value, digits, text) in [
            (0.021_345, 3, "0.0213"),
            (9.996, 3, "10.0"),
            (96_561.3, 3, "96561"),
            (0.0, 3, "0"),
            (-1.5, 4, "-1.500"),
            (1.63e-9, 3, "1.63e-9"),
            (6.02e23, 3, "6.02e23"),
            (0.000_016_3, 3, "0.0000163"),
        ] {
            assert_eq!(significant(value, digits), text, "{value}");
        }
        assert_eq!(trim_zeros("1.500"), "1.5");
        assert_eq!(trim_zeros("100"), "100");
        assert_eq!(trim_zeros("3.00"), "3");
    }
}
