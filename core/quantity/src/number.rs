//! Numbers as people write them.
//!
//! Decimal point or decimal comma, a minus in any of its shapes, digits in groups of three. One comma before exactly
//! three digits (`1,234`) has two readings a factor of a thousand apart and is refused. One point before exactly three
//! (`1.234`) is a decimal point, but for units that people count in thousands: see [`Number::in_thousands`].

use super::fault::{ReadFault, quote};
use super::symbol::is_space;
use standpipe_diagnostic::{Code, nearest};

/// A number at the start of a text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Number {
    pub value: f64,
    /// Digits after the decimal point, as the number would be written without an exponent.
    pub decimals: u8,
    /// Where the number starts and ends in the text.
    pub start: usize,
    pub end: usize,
    /// A point stands where one between thousands would, as in `88.000`: two readings.
    pub in_threes: bool,
}

impl Number {
    /// Refuses `88.000` of a unit that is said in thousands and never to a thousandth: `88.000 km` is 88 or 88,000. A scale
    /// shows `1.420 kg`, so that most units keep their decimal point.
    pub fn in_thousands(&self, text: &str) -> Result<(), ReadFault> {
        if !self.in_threes {
            return Ok(());
        }
        let written = text[self.start..self.end].trim_end_matches('.');
        Err(two_readings(written, self.start..self.end, written.replace('.', ""), without_three_digits(written)))
    }
}

/// The reading with a decimal point, so that it has no three digits behind it.
fn without_three_digits(written: &str) -> String {
    let short = written.trim_end_matches('0');
    match short.ends_with('.') {
        true => format!("{short}0"),
        false if short.len() < written.len() => short.to_owned(),
        false => format!("{written}0"),
    }
}

fn two_readings(written: &str, at: std::ops::Range<usize>, thousands: String, decimal: String) -> ReadFault {
    let message = format!("{} can be read as {thousands} or as {decimal}", quote(written));
    ReadFault::new(Code::AmbiguousQuantity, at, message)
        .help(format!("write `{thousands}` or `{decimal}`"))
        .choices([thousands, decimal])
}

pub(super) fn is_minus(c: char) -> bool {
    matches!(c, '-' | '\u{2212}' | '\u{2010}'..='\u{2014}')
}

/// Whether a number starts here, after spaces and a sign.
pub(super) fn starts_number(text: &str) -> bool {
    let rest = text.trim_start_matches(is_space);
    let rest = rest.strip_prefix(|c| is_minus(c) || c == '+').unwrap_or(rest).trim_start_matches(is_space);
    let mut chars = rest.chars();
    match chars.next() {
        Some(c) if c.is_ascii_digit() => true,
        Some('.' | ',') => chars.next().is_some_and(|c| c.is_ascii_digit()),
        _ => false,
    }
}

/// Reads the number that starts at byte `from`.
pub(super) fn read(text: &str, from: usize) -> Result<Number, ReadFault> {
    let start = from + text[from..].len() - text[from..].trim_start_matches(is_space).len();
    let mut at = start;
    let mut negative = false;
    if let Some(c) = text[at..].chars().next().filter(|c| is_minus(*c) || *c == '+') {
        negative = c != '+';
        at += c.len_utf8();
        at += text[at..].len() - text[at..].trim_start_matches(is_space).len();
    }
    if !starts_number(&text[at..]) || text[at..].starts_with(|c| is_minus(c) || c == '+') {
        return Err(not_a_number(text, start, at));
    }
    let (groups, end) = groups(text, at);
    let (whole, fraction) = join(&groups, &text[at..end], start..end)?;
    let (exponent, end) = exponent(text, end);
    if let Some(fault) = vulgar_fraction(text, start..end, negative, &whole, &fraction) {
        return Err(fault);
    }
    let digits = format!("{whole}.{fraction}e{exponent}");
    let value: f64 = digits.parse().map_err(|_| {
        ReadFault::new(Code::NotAQuantity, start..end, format!("{} is not a number", quote(&text[start..end])))
    })?;
    if !value.is_finite() {
        let message = format!("{} is larger than any number that can be computed with", quote(&text[start..end]));
        return Err(ReadFault::new(Code::NotAQuantity, start..end, message));
    }
    if value == 0.0 && (whole.bytes().chain(fraction.bytes())).any(|digit| digit != b'0') {
        let message = format!("{} is closer to 0 than any number that can be computed with", quote(&text[start..end]));
        return Err(ReadFault::new(Code::NotAQuantity, start..end, message).help("write `0` if it is to be 0"));
    }
    let decimals = (fraction.len() as i64 - i64::from(exponent)).clamp(0, 255) as u8;
    // A written zero carries no sign.
    let value = if negative && value != 0.0 { -value } else { value };
    let in_threes = exponent == 0 && is_in_threes(&groups);
    Ok(Number { value, decimals, start, end, in_threes })
}

/// Fractions that are one sign.
const FRACTIONS: [(char, f64); 9] = [
    ('½', 0.5),
    ('¼', 0.25),
    ('¾', 0.75),
    ('⅓', 1.0 / 3.0),
    ('⅔', 2.0 / 3.0),
    ('⅛', 0.125),
    ('⅜', 0.375),
    ('⅝', 0.625),
    ('⅞', 0.875),
];

fn not_a_number(text: &str, start: usize, at: usize) -> ReadFault {
    let word: String = text[at..].chars().take_while(|c| c.is_alphanumeric() || matches!(c, '.' | '∞')).collect();
    let bare = word.trim_start_matches('.').to_lowercase();
    let range = start..(at + word.len()).max(start);
    if ["nan", "inf", "infinity", "∞"].contains(&bare.as_str()) {
        return ReadFault::new(Code::NotAQuantity, range, format!("{} is not a finite number", quote(&text[start..])));
    }
    if let Some((_, share)) = FRACTIONS.iter().find(|(sign, _)| text[at..].starts_with(*sign)) {
        let message = format!("{} is a fraction", quote(&text[start..]));
        return ReadFault::new(Code::NotAQuantity, start..text.len(), message)
            .help(format!("write it as a decimal: `{share}`"));
    }
    let message = match text[start..].trim_matches(is_space) {
        "" if start == 0 || text[..start].trim_matches(is_space).is_empty() => "nothing is written".to_owned(),
        "" => "a number is missing at the end".to_owned(),
        rest => format!("{} does not start with a number", quote(rest)),
    };
    // What people write where they do not know.
    let word = text[start..].trim_matches(is_space).to_lowercase();
    let nobody_knows = ["n/a", "na", "tbd", "tba", "none", "-"].contains(&word.as_str());
    let fault = ReadFault::new(Code::NotAQuantity, start..text.len(), message);
    if nobody_knows || nearest(&word, ["unknown"]).is_some() {
        return fault.help("what nobody knows yet is `unknown` in a family, and left out elsewhere");
    }
    fault.help("write a number and its unit, e.g. `5.5 L`")
}

/// Runs of digits, each with the separator before it, and where they end.
fn groups(text: &str, from: usize) -> (Vec<(char, &str)>, usize) {
    let mut groups = Vec::new();
    let mut at = from;
    let mut separator = ' ';
    loop {
        let length = text[at..].bytes().take_while(u8::is_ascii_digit).count();
        groups.push((separator, &text[at..at + length]));
        at += length;
        let Some(next) = text[at..].chars().next() else { break };
        let after = &text[at + next.len_utf8()..];
        let follows = after.bytes().take_while(u8::is_ascii_digit).count();
        let pointed = groups.iter().any(|(separator, _)| matches!(separator, '.' | ','));
        let goes_on = match next {
            '.' | ',' => follows > 0,
            // Digits in threes, with a space of any width or an apostrophe between them.
            c if is_space(c) || matches!(c, '\'' | '’') => {
                follows == 3 && !pointed && (1..=3).contains(&groups[0].1.len()) && !groups[0].1.starts_with('0')
            }
            _ => false,
        };
        if goes_on {
            separator = if is_space(next) { ' ' } else { next };
            at += next.len_utf8();
        } else {
            // "7." is 7, but the dots of "7..9" belong to a range. "2.5.min" is how an expression writes "2.5 min".
            if next == '.' && (after.starts_with(char::is_alphabetic) || !after.starts_with('.') && !pointed) {
                at += 1;
            }
            break;
        }
    }
    (groups, at)
}

/// `88.000`: one point, and three digits behind it.
fn is_in_threes(groups: &[(char, &str)]) -> bool {
    matches!(groups, [(_, first), ('.', three)]
        if three.len() == 3 && (1..=3).contains(&first.len()) && !first.starts_with('0'))
}

/// Digits before and after the decimal point.
fn join(groups: &[(char, &str)], written: &str, at: std::ops::Range<usize>) -> Result<(String, String), ReadFault> {
    let (first, rest) = (groups[0].1, &groups[1..]);
    let marks: Vec<char> = rest.iter().map(|(mark, _)| *mark).filter(|mark| matches!(mark, '.' | ',')).collect();
    let grouped = marks.len() < rest.len();
    let threes = |groups: &[(char, &str)]| {
        (1..=3).contains(&first.len()) && !first.starts_with('0') && groups.iter().all(|(_, digits)| digits.len() == 3)
    };
    let all = |groups: &[(char, &str)]| groups.iter().map(|(_, digits)| *digits).collect::<String>();
    let split = |count: usize| {
        let (whole, fraction) = groups.split_at(count);
        let whole = all(whole);
        (if whole.is_empty() { "0".to_owned() } else { whole }, all(fraction))
    };
    let last = groups.len() - 1;
    match marks.as_slice() {
        [] => Ok(split(groups.len())),
        [','] if !grouped && threes(rest) => {
            let (thousands, decimal) = (written.replace(',', ""), written.replace(',', "."));
            Err(two_readings(written, at, thousands, decimal))
        }
        [_] => Ok(split(last)),
        // 1,234,567
        [',', more @ ..] if !grouped && more.iter().all(|mark| *mark == ',') && threes(rest) => Ok(split(groups.len())),
        // 1,234.5 and 1.234,5
        [many @ .., decimal] if !grouped && many.iter().all(|mark| mark != decimal && *mark == many[0]) => {
            if threes(&rest[..rest.len() - 1]) { Ok(split(last)) } else { Err(ungrouped(written, at)) }
        }
        _ => Err(ungrouped(written, at)),
    }
}

fn ungrouped(written: &str, at: std::ops::Range<usize>) -> ReadFault {
    ReadFault::new(Code::NotAQuantity, at, format!("{} has more than one decimal point", quote(written)))
        .help("write plain digits with one decimal point, e.g. `1234.5`")
}

/// A power of ten behind the digits, `1e-3`, and where the number ends.
fn exponent(text: &str, end: usize) -> (i32, usize) {
    let Some(rest) = text[end..].strip_prefix(['e', 'E']) else { return (0, end) };
    let sign = rest.chars().next().filter(|c| is_minus(*c) || *c == '+');
    let digits = &rest[sign.map_or(0, char::len_utf8)..];
    let length = digits.bytes().take_while(u8::is_ascii_digit).count();
    if length == 0 {
        return (0, end);
    }
    // Beyond this every number is infinite or 0, which is found when it is parsed.
    let size: i32 = digits[..length].parse().unwrap_or(99_999).min(99_999);
    let value = if sign.is_some_and(is_minus) { -size } else { size };
    (value, end + 1 + sign.map_or(0, char::len_utf8) + length)
}

/// `3/8` and `1 1/2`: refused with the decimal to write.
fn vulgar_fraction(
    text: &str,
    at: std::ops::Range<usize>,
    negative: bool,
    whole: &str,
    fraction: &str,
) -> Option<ReadFault> {
    let (start, end) = (at.start, at.end);
    let signed = |value: f64| if negative { -value } else { value };
    if !fraction.is_empty() {
        return None;
    }
    let rest = &text[end..];
    let sign = rest.trim_start_matches(is_space);
    if let Some((sign, share)) = FRACTIONS.iter().find(|(one, _)| sign.starts_with(*one)) {
        let at = end + rest.find(*sign)? + sign.len_utf8();
        let (message, whole) = (format!("{} is a fraction", quote(&text[start..at])), whole.parse::<f64>().ok()?);
        let fault = ReadFault::new(Code::NotAQuantity, start..at, message);
        return Some(fault.help(format!("write it as a decimal: `{}`", signed(whole + share))));
    }
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let spaces = rest.len() - rest.trim_start_matches(is_space).len();
    let (base, top, at) = if rest.starts_with('/') {
        ("0", whole, end)
    } else {
        let length = digits(&rest[spaces..]);
        (whole, &rest[spaces..spaces + length], end + spaces + length)
    };
    let below = text[at..].strip_prefix('/')?;
    let length = digits(below);
    let (base, top, below): (f64, f64, f64) =
        (base.parse().ok()?, top.parse().ok()?, below[..length].parse().ok().filter(|n| *n != 0.0)?);
    let range = start..at + 1 + length;
    let message = format!("{} is a fraction", quote(&text[range.clone()]));
    Some(
        ReadFault::new(Code::NotAQuantity, range, message)
            .help(format!("write it as a decimal: `{}`", signed(base + top / below))),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> (f64, u8, &str) {
        let number = read(text, 0).unwrap_or_else(|fault| panic!("{text:?}: {fault}"));
        (number.value, number.decimals, &text[number.end..])
    }

    #[test]
    fn numbers_as_people_write_them() {
        for (text, value, decimals, rest) in [
            ("7", 7.0, 0, ""),
            ("7.0 L", 7.0, 1, " L"),
            ("7.", 7.0, 0, ""),
            ("7..9", 7.0, 0, "..9"),
            (".5", 0.5, 1, ""),
            ("41,5 °C", 41.5, 1, " °C"),
            ("41,55", 41.55, 2, ""),
            ("0,234", 0.234, 3, ""),
            ("12345,678", 12345.678, 3, ""),
            ("1,234,567", 1_234_567.0, 0, ""),
            ("1,234.5", 1234.5, 1, ""),
            ("1.234,5", 1234.5, 1, ""),
            ("1.234", 1.234, 3, ""),
            ("1 234.5 L", 1234.5, 1, " L"),
            ("1\u{202f}234 567", 1_234_567.0, 0, ""),
            ("1 234,567", 1234.567, 3, ""),
            ("1'234.50", 1234.5, 2, ""),
            ("12 34", 12.0, 0, " 34"),
            ("0 100", 0.0, 0, " 100"),
            ("-40", -40.0, 0, ""),
            ("\u{2212}40", -40.0, 0, ""),
            ("– 40", -40.0, 0, ""),
            ("+3", 3.0, 0, ""),
            ("  3", 3.0, 0, ""),
            ("1e-3", 0.001, 3, ""),
            ("1.5E3", 1500.0, 0, ""),
            ("1e\u{2212}3", 0.001, 3, ""),
            ("-0", 0.0, 0, ""),
            ("5 ea", 5.0, 0, " ea"),
            ("5e", 5.0, 0, "e"),
        ] {
            let found = number(text);
            assert_eq!(found, (value, decimals, rest), "{text:?}");
            assert!(found.0 != 0.0 || found.0.is_sign_positive(), "{text:?}");
        }
    }

    #[test]
    fn what_is_no_number_or_has_two_readings_is_refused() {
        for (text, code, expected) in [
            ("1,234", Code::AmbiguousQuantity, "1234 or as 1.234"),
            ("-12,345 L", Code::AmbiguousQuantity, "`12,345` can be read as 12345 or as 12.345"),
            ("", Code::NotAQuantity, "nothing is written"),
            ("   ", Code::NotAQuantity, "nothing is written"),
            ("abc", Code::NotAQuantity, "does not start with a number"),
            ("--4", Code::NotAQuantity, "does not start with a number"),
            ("nan", Code::NotAQuantity, "not a finite number"),
            ("-inf L", Code::NotAQuantity, "not a finite number"),
            (".inf", Code::NotAQuantity, "not a finite number"),
            ("∞", Code::NotAQuantity, "not a finite number"),
            ("1e999", Code::NotAQuantity, "larger than any number"),
            ("1e-999", Code::NotAQuantity, "closer to 0"),
            ("1e99999999999999999999", Code::NotAQuantity, "larger than any number"),
            ("1.2.3", Code::NotAQuantity, "more than one decimal point"),
            ("1,2,3", Code::NotAQuantity, "more than one decimal point"),
            ("1,23.5", Code::NotAQuantity, "more than one decimal point"),
            ("3/8 in", Code::NotAQuantity, "is a fraction; write it as a decimal: `0.375`"),
            ("1 1/2 in", Code::NotAQuantity, "`1.5`"),
            ("-1 1/2 in", Code::NotAQuantity, "`-1.5`"),
            ("½ in", Code::NotAQuantity, "is a fraction; write it as a decimal: `0.5`"),
            ("5½ US qt", Code::NotAQuantity, "`5½` is a fraction; write it as a decimal: `5.5`"),
            ("-5 ½ in", Code::NotAQuantity, "`-5 ½` is a fraction; write it as a decimal: `-5.5`"),
        ] {
            let fault = read(text, 0).expect_err(text);
            assert_eq!(fault.code, code, "{text}");
            assert!(fault.to_string().contains(expected), "{text}: {fault}");
            assert!(text.get(fault.range.clone()).is_some(), "{text}: {:?}", fault.range);
        }
        assert!(read(&"9".repeat(100_000), 0).is_err());
        assert!(read(&"1,".repeat(100_000), 0).is_err());
    }
}
