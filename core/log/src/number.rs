//! Numbers in cells: fast where they are plain, strict where they are not.

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalSign {
    Point,
    Comma,
}

impl DecimalSign {
    pub fn words(self) -> &'static str {
        match self {
            DecimalSign::Point => "point",
            DecimalSign::Comma => "comma",
        }
    }

    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "point" | "." => Some(DecimalSign::Point),
            "comma" | "," => Some(DecimalSign::Comma),
            _ => None,
        }
    }

    fn byte(self) -> u8 {
        match self {
            DecimalSign::Point => b'.',
            DecimalSign::Comma => b',',
        }
    }

    fn groups(self) -> u8 {
        match self {
            DecimalSign::Point => b',',
            DecimalSign::Comma => b'.',
        }
    }
}

const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

/// A cell without its blanks.
#[inline]
pub(super) fn trimmed(cell: &[u8]) -> &[u8] {
    let bare = |byte: &u8| byte.is_ascii_graphic();
    if cell.first().is_some_and(bare) && cell.last().is_some_and(bare) { cell } else { trimmed_slowly(cell) }
}

fn trimmed_slowly(cell: &[u8]) -> &[u8] {
    let mut cell = cell.trim_ascii();
    // A no-break space, as UTF-8 and as Latin-1.
    while let Some(rest) = cell.strip_suffix(b"\xC2\xA0").or_else(|| cell.strip_suffix(b"\xA0")) {
        cell = rest.trim_ascii_end();
    }
    cell
}

/// What stands for "no reading".
pub(super) fn is_absent(cell: &[u8]) -> bool {
    match cell {
        [] => true,
        _ if cell.iter().all(|byte| *byte == b'-') => true,
        b"\xE2\x80\x93" | b"\xE2\x80\x94" | b"\xE2\x88\x92" | b"\x96" | b"\x97" => true,
        _ => [&b"nan"[..], b"n/a", b"na", b"null", b"none", b"#n/a"].iter().any(|word| cell.eq_ignore_ascii_case(word)),
    }
}

/// A whole cell as a finite number.
#[inline]
pub(super) fn read(cell: &[u8], sign: DecimalSign) -> Option<f64> {
    let (negative, digits) = match cell {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        // The minus of typography.
        [0xE2, 0x88, 0x92, rest @ ..] => (true, rest),
        _ => (false, cell),
    };
    let mut mantissa: u64 = 0;
    let mut point: Option<usize> = None;
    for (at, &byte) in digits.iter().enumerate() {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        } else if byte == sign.byte() && point.is_none() {
            point = Some(at);
        } else {
            return slow(digits, negative, sign);
        }
    }
    let (count, decimals) = match point {
        Some(at) => (digits.len() - 1, digits.len() - 1 - at),
        None => (digits.len(), 0),
    };
    if count == 0 || count > 15 {
        return slow(digits, negative, sign);
    }
    // Both parts exact, so their quotient is rounded once, as a parser would.
    let value = if decimals == 0 { mantissa as f64 } else { mantissa as f64 / TENS[decimals] };
    Some(if negative { -value + 0.0 } else { value })
}

/// Digits behind a decimal sign, at most twelve of them, as a part of one.
#[inline]
pub(super) fn fraction(digits: &[u8]) -> Option<f64> {
    if digits.is_empty() || digits.len() > 12 || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let whole = digits.iter().fold(0u64, |sum, byte| sum * 10 + u64::from(byte - b'0'));
    Some(whole as f64 / TENS[digits.len()])
}

/// Groups of thousands, exponents, many digits.
fn slow(digits: &[u8], negative: bool, sign: DecimalSign) -> Option<f64> {
    let text = std::str::from_utf8(digits).ok()?;
    if !digits.first()?.is_ascii_digit() && digits.first() != Some(&sign.byte()) {
        return None;
    }
    let (whole, rest) = match text.find(sign.byte() as char) {
        Some(at) => (&text[..at], &text[at + 1..]),
        None => match text.find(['e', 'E']) {
            Some(at) => (&text[..at], ""),
            None => (text, ""),
        },
    };
    let whole = match whole.split_once(sign.groups() as char) {
        Some((first, groups)) => {
            let sound = (1..=3).contains(&first.len())
                && groups.split(sign.groups() as char).all(|group| group.len() == 3 && is_digits(group));
            if !sound {
                return None;
            }
            whole.replace(sign.groups() as char, "")
        }
        None => whole.to_owned(),
    };
    let tail = match text.find(sign.byte() as char) {
        Some(_) => format!(".{rest}"),
        None => text.find(['e', 'E']).map(|at| text[at..].to_owned()).unwrap_or_default(),
    };
    // Only what a number is made of: the parser would also take `inf`.
    let plain = format!("{whole}{tail}");
    if !plain.bytes().all(|byte| byte.is_ascii_digit() || b".eE+-".contains(&byte)) {
        return None;
    }
    let value: f64 = plain.parse().ok()?;
    let value = if negative { -value } else { value };
    value.is_finite().then_some(value + 0.0)
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

/// What a cell tells of the decimal sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hint {
    /// No number, or one without any sign.
    None,
    Surely(DecimalSign),
    /// `1.234`: a fraction, or a group of thousands.
    Either,
}

pub(super) fn hint(cell: &str) -> Hint {
    let digits = cell.trim_start_matches(['-', '+', '−']);
    if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.' || byte == b',') {
        return Hint::None;
    }
    let (points, commas) = (digits.matches('.').count(), digits.matches(',').count());
    match (points, commas) {
        (0, 0) => Hint::None,
        (1, 0) => one(digits, '.', DecimalSign::Point),
        (0, 1) => one(digits, ',', DecimalSign::Comma),
        // Several of one sign are groups, so that the other would be the decimal sign; a date or a version is no number.
        _ => match [DecimalSign::Point, DecimalSign::Comma].map(|sign| read(digits.as_bytes(), sign).is_some()) {
            [true, false] => Hint::Surely(DecimalSign::Point),
            [false, true] => Hint::Surely(DecimalSign::Comma),
            _ => Hint::None,
        },
    }
}

fn one(digits: &str, sign: char, is: DecimalSign) -> Hint {
    let Some((before, after)) = digits.split_once(sign) else { return Hint::None };
    let group = after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
    if group { Hint::Either } else { Hint::Surely(is) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_a_parser_reads_them() {
        for text in ["0", "38.4", "-12.25", "0.1", "123456.789", "1e3", "2.5E-3", "9007199254740993.5", "+4", "-0"] {
            let expected: f64 = text.parse().unwrap();
            assert_eq!(read(text.as_bytes(), DecimalSign::Point), Some(expected), "{text}");
        }
        assert_eq!(read(b"1.234,5", DecimalSign::Comma), Some(1234.5));
        assert_eq!(read(b"1,234", DecimalSign::Point), Some(1234.0));
        assert_eq!(read("−4,5".as_bytes(), DecimalSign::Comma), Some(-4.5));
    }

    #[test]
    fn what_is_no_number_is_none() {
        for text in ["", "-", "inf", "NaN", "1.2.3", "12a", "1,23,4", "0x10", "1e", "--4", ".", "1e999", "12 34"] {
            assert_eq!(read(text.as_bytes(), DecimalSign::Point), None, "{text}");
        }
        assert_eq!(read(b"38.45", DecimalSign::Comma), None);
    }

    #[test]
    fn a_sign_that_could_be_either_is_said_to_be() {
        assert_eq!(hint("1.234"), Hint::Either);
        assert_eq!(hint("12,345"), Hint::Either);
        assert_eq!(hint("0.125"), Hint::Surely(DecimalSign::Point));
        assert_eq!(hint("38,4"), Hint::Surely(DecimalSign::Comma));
        assert_eq!(hint("1.234.567"), Hint::Surely(DecimalSign::Comma));
        assert_eq!(hint("1.234,5"), Hint::Surely(DecimalSign::Comma));
        assert_eq!(hint("08:15"), Hint::None);
        assert_eq!(hint("05.11.2026"), Hint::None);
    }
}
