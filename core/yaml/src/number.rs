//! Which plain words are numbers, booleans or traps.

/// Decimal numbers as YAML 1.2 writes them; `1_000`, `0x1f`, `nan` and `inf` are words.
pub(super) fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (mantissa, exponent) = match digits.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(exponent)),
        None => (digits, None),
    };
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all_digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let exponent_is_sound = exponent.is_none_or(|e| {
        let e = e.strip_prefix(['+', '-']).unwrap_or(e);
        !e.is_empty() && all_digits(e)
    });
    all_digits(whole) && all_digits(fraction) && !(whole.is_empty() && fraction.is_empty()) && exponent_is_sound
}

/// `.nan`, `.inf` and their relatives, which YAML reads as numbers.
pub(super) fn is_not_finite(text: &str) -> bool {
    let word = text.strip_prefix(['+', '-']).unwrap_or(text);
    matches!(word, ".inf" | ".Inf" | ".INF") || matches!(text, ".nan" | ".NaN" | ".NAN")
}

/// Words that YAML 1.1 reads as a truth value and YAML 1.2 as text.
pub(super) fn is_two_faced(text: &str) -> bool {
    matches!(text, "yes" | "Yes" | "YES" | "no" | "No" | "NO" | "on" | "On" | "ON" | "off" | "Off" | "OFF")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_the_decimal_ones_only() {
        for number in ["0", "-3", "+4.5", ".5", "5.", "1e3", "1.5E-7"] {
            assert!(is_number(number), "{number}");
        }
        for word in ["", ".", "-", "e5", "1e", "1_000", "0x1f", "nan", "inf", "1,5", "8 mm", "1.2.3", "--1"] {
            assert!(!is_number(word), "{word}");
        }
    }
}
