//! From text to a range: `35..45 degC`, `35 to 45 °C`, `35–45 °C`, `24 ± 2 N·m`.

use std::ops::Range;

use super::fault::{ReadFault, quote};
use super::number::{self, Number, is_minus, starts_number};
use super::read::trimmed;
use super::round::at_place;
use super::symbol::{is_space, normal};
use super::{Quantity, Units};
use crate::value::Value;
use standpipe_diagnostic::Code;

impl Units {
    /// Reads a range, both ends included. A unit after either end counts for both.
    pub fn read_range(&self, text: &str, asked: Option<&str>, bare: Option<&str>) -> Result<Value, ReadFault> {
        let first = number::read(text, 0)?;
        let Some(between) = separator(text, first.end) else {
            let written = text.trim_matches(is_space);
            return Err(ReadFault::new(
                Code::NotAQuantity,
                0..text.len(),
                format!("{} is one value, not a range", quote(text)),
            )
            .help(format!("write both ends, e.g. `{}..{written}`", &text[first.start..first.end])));
        };
        let (first_unit, first_at) = trimmed(text, first.end..between.start);
        let second = number::read(text, between.end)?;
        let (second_unit, second_at) = trimmed(text, second.end..text.len());
        if !self.is_known(second_unit) && (separator(text, second.end).is_some() || starts_number(second_unit)) {
            let message = format!("{} has more than two ends", quote(text));
            return Err(ReadFault::new(Code::NotAQuantity, 0..text.len(), message).help("write e.g. `35..45 degC`"));
        }
        let first_as = if first_unit.is_empty() { (second_unit, second_at.clone()) } else { (first_unit, first_at) };
        let second_as = if second_unit.is_empty() { first_as.clone() } else { (second_unit, second_at) };
        let one = self.unit_or_bare(text, first_as.0, first_as.1, asked, bare)?;
        let other = self.unit_or_bare(text, second_as.0, second_as.1, asked, bare)?;
        let around = text[between.clone()].contains(['±', '+']);
        let (first, second) = if around {
            if normal(first_as.0) != normal(second_as.0) {
                let message = format!("{} has two units", quote(text));
                return Err(ReadFault::new(Code::NotAQuantity, 0..text.len(), message)
                    .help("write the two ends with their unit"));
            }
            tolerance(first, second)
        } else {
            (first, second)
        };
        let low = self.build(text, first, one.as_ref())?;
        let high = self.build(text, second, other.as_ref())?;
        if low.dimension != high.dimension || low.point != high.point {
            let message = format!("the ends of {} are of different kinds", quote(text));
            return Err(ReadFault::new(Code::WrongQuantity, 0..text.len(), message));
        }
        ordered(low, high, text)
    }
}

fn ordered(low: Quantity, high: Quantity, text: &str) -> Result<Value, ReadFault> {
    if low.si <= high.si {
        return Ok(Value::Range(low, high));
    }
    let message = format!("the low end of {} lies above its high end", quote(text));
    Err(ReadFault::new(Code::ReversedRange, 0..text.len(), message).help("write the lower value first"))
}

/// The two ends of `24 ± 2`, in the decimals that were written.
fn tolerance(middle: Number, reach: Number) -> (Number, Number) {
    let decimals = middle.decimals.max(reach.decimals);
    let end = |value: f64| {
        // Decimal sums are exact on paper: 8.5 - 0.1 is 8.4.
        let value = at_place(value, -i32::from(decimals)).parse().unwrap_or(value);
        Number { value, decimals, ..middle }
    };
    (end(middle.value - reach.value.abs()), end(middle.value + reach.value.abs()))
}

/// Where the two ends of a range are parted, looking from byte `from` on.
///
/// A dash parts them only if a number follows: `7 ft-lb - 9 ft-lb` has one such dash.
pub(super) fn separator(text: &str, from: usize) -> Option<Range<usize>> {
    let mut at = from;
    while let Some(c) = text[at..].chars().next() {
        let rest = &text[at..];
        for (word, spaced) in [("...", false), ("..", false), ("…", false), ("±", false), ("+/-", false), ("to", true)]
        {
            let Some(after) = rest.strip_prefix(word) else { continue };
            let apart =
                !spaced || (text[..at].ends_with(is_space) && after.starts_with(is_space) && starts_number(after));
            if apart {
                return Some(at..at + word.len());
            }
        }
        if is_minus(c) && !text[..at].ends_with('^') && starts_number(&rest[c.len_utf8()..]) {
            return Some(at..at + c.len_utf8());
        }
        at += c.len_utf8();
    }
    None
}
