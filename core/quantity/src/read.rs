//! From text to a quantity: `7 lbf·ft`, `41,5 °C`, `−40 degC`.

use std::ops::Range;

use super::family::Unit;
use super::fault::{DimensionFault, ReadFault, quote};
use super::lookup::Found;
use super::number::{self, Number, starts_number};
use super::range::separator;
use super::symbol::is_space;
use super::{Name, Quantity, Units, Written};
use crate::value::Value;
use standpipe_diagnostic::Code;

impl Units {
    /// Reads one value. `asked` is the quantity wanted, `bare` the unit of a number without one.
    ///
    /// Plain numbers and quantities of whole numbers become [`Value::Number`], all else [`Value::Quantity`].
    pub fn read(&self, text: &str, asked: Option<&str>, bare: Option<&str>) -> Result<Value, ReadFault> {
        let number = number::read(text, 0)?;
        let (unit, at) = trimmed(text, number.end..text.len());
        if let Some(sum) = self.sum_of_parts(text, number, asked) {
            return Ok(Value::Quantity(sum));
        }
        if let Some(fault) = in_short(text, number, unit, asked) {
            return Err(fault);
        }
        if !self.is_known(unit) && (separator(text, number.end).is_some() || starts_number(unit)) {
            let message = format!("{} is more than one number, but one value is asked for", quote(text));
            return Err(ReadFault::new(Code::NotAQuantity, 0..text.len(), message));
        }
        let found = self.unit_or_bare(text, unit, at, asked, bare)?;
        let quantity = self.build(text, number, found.as_ref())?;
        let whole = found.as_ref().is_some_and(|found| found.family.whole);
        Ok(if found.is_none() || whole { Value::Number(quantity.si) } else { Value::Quantity(quantity) })
    }

    /// `1 h 30 min`, in its last unit: whole numbers of ever smaller units of one quantity, none as large as one of the unit
    /// before it. Nothing else is a sum: `7 ft-lb 9 ft-lb` is two values.
    fn sum_of_parts(&self, text: &str, first: Number, asked: Option<&str>) -> Option<Quantity> {
        let (mut number, mut sum, mut before) = (first, 0.0, None::<(Name, f64, bool)>);
        loop {
            let rest = &text[number.end..];
            let next = rest.find(|c: char| c.is_ascii_digit()).map(|at| number.end + at);
            let (unit, at) = trimmed(text, number.end..next.unwrap_or(text.len()));
            let found = self.resolve(unit, asked.or(before.as_ref().map(|(of, ..)| &**of)), at).ok()?;
            let (of, factor) = (found.of?, found.unit.factor);
            if unit.is_empty() || found.family.point || number.value < 0.0 {
                return None;
            }
            if let Some((family, larger, whole)) = before
                && (family != of || !whole || factor >= larger || number.value * factor >= larger)
            {
                return None;
            }
            sum += number.value * factor;
            let Some(next) = next else {
                let mut quantity = self.of_unit(sum / factor, &found, 0..text.len()).ok()?;
                quantity.written.as_mut()?.decimals = number.decimals;
                return before.is_some().then_some(quantity);
            };
            before = Some((of, factor, number.decimals == 0));
            number = number::read(text, next).ok()?;
        }
    }

    /// A number of some unit, as scripts make them: `30.degC`.
    pub fn quantity(&self, value: f64, unit: &str) -> Result<Quantity, ReadFault> {
        let found = match self.script_unit(unit) {
            Some((family, unit)) => Found { family, unit, of: Some(family.name) },
            None => self.resolve(unit, None, 0..unit.len())?,
        };
        let mut quantity = self.of_unit(value, &found, 0..unit.len())?;
        quantity.written = None;
        Ok(quantity)
    }

    /// The value of a quantity in a unit, with all its digits.
    pub fn convert(&self, quantity: &Quantity, unit: &str) -> Result<f64, DimensionFault> {
        if let Some(unit) = self.unit_for(quantity, unit) {
            return Ok(value_in(quantity, unit));
        }
        Err(match self.resolve(unit, None, 0..unit.len()) {
            Err(fault) if fault.code == Code::UnknownUnit => {
                DimensionFault { code: fault.code, message: fault.message, help: fault.help }
            }
            _ => DimensionFault::new(
                Code::DimensionClash,
                format!("{} can't be given in `{unit}`", self.describe(quantity)),
            ),
        })
    }

    /// The unit written after a number; `None` for a number that needs none.
    pub(super) fn unit_or_bare(
        &self,
        text: &str,
        unit: &str,
        at: Range<usize>,
        asked: Option<&str>,
        bare: Option<&str>,
    ) -> Result<Option<Found<'_>>, ReadFault> {
        if !unit.is_empty() {
            return self.resolve(unit, asked, at).map(Some);
        }
        if let Some(bare) = bare {
            return self.resolve(bare, asked, at).map(Some);
        }
        let Some(asked) = asked else { return Ok(None) };
        let family = self.asked(asked, at.clone())?;
        if let Some((_, unit)) = family.units.get_key_value("1") {
            return Ok(Some(Found { family, unit, of: Some(family.name) }));
        }
        let examples = family.examples();
        let help = examples.first().map(|unit| format!("write e.g. `{} {unit}`", text.trim_matches(is_space)));
        let mut fault = ReadFault::new(Code::NotAQuantity, 0..text.len(), format!("{} has no unit", quote(text)));
        fault.help = help;
        Err(fault.choices(examples))
    }

    pub(super) fn build(&self, text: &str, number: Number, found: Option<&Found<'_>>) -> Result<Quantity, ReadFault> {
        let Some(found) = found else {
            let written = Written { value: number.value, unit: "".into(), decimals: number.decimals };
            return Ok(Quantity { written: Some(written), ..Quantity::number(number.value) });
        };
        if found.unit.in_thousands {
            number.in_thousands(text)?;
        }
        let at = number.start..text.trim_end_matches(is_space).len().max(number.end);
        let mut quantity = self.of_unit(number.value, found, at.clone())?;
        let written = quantity.written.get_or_insert(Written { value: 0.0, unit: "".into(), decimals: 0 });
        written.decimals = number.decimals;
        if found.family.whole && (quantity.si.fract() != 0.0 || quantity.si.abs() > 2f64.powi(53)) {
            let message = format!(
                "{} is not a whole number, and nothing else fits {}",
                quote(&text[at.clone()]),
                found.family.title()
            );
            return Err(ReadFault::new(Code::WrongQuantity, at, message));
        }
        Ok(quantity)
    }

    fn of_unit(&self, value: f64, found: &Found<'_>, at: Range<usize>) -> Result<Quantity, ReadFault> {
        let Found { family, unit, of } = found;
        let si = unit.to_si(value);
        let shown = || format!("`{value} {}`", unit.symbol);
        if !si.is_finite() || (si == 0.0 && value + unit.shift != 0.0) {
            let message = format!("{} is beyond what can be computed with", shown());
            return Err(ReadFault::new(Code::NotAQuantity, at, message));
        }
        // Rounding may put absolute zero itself a hair below 0.
        if let Some(lowest) = family.lowest.filter(|lowest| si < lowest - 1e-12 * unit.shift.abs().max(1.0)) {
            let least = unit.from_si(lowest);
            let message = format!("{} is below the lowest possible value, `{least} {}`", shown(), unit.symbol);
            return Err(ReadFault::new(Code::NotAQuantity, at, message));
        }
        let symbol: Name = if &*unit.symbol == "1" { Name::EMPTY } else { unit.symbol };
        Ok(Quantity {
            si,
            dimension: family.dimension,
            point: family.point,
            of: *of,
            written: Some(Written { value, unit: symbol, decimals: 0 }),
        })
    }
}

/// `60k`: sixty thousand to some, sixty kilometres to others.
fn in_short(text: &str, number: Number, unit: &str, asked: Option<&str>) -> Option<ReadFault> {
    let thousands = unit.strip_prefix('k')?.trim_start_matches(is_space);
    let short = matches!(asked, Some("distance" | "length")) && (thousands.is_empty() || unit.starts_with("k "));
    if !short {
        return None;
    }
    let full = format!("{}", number.value * 1000.0);
    let unit = if thousands.is_empty() { "km" } else { thousands };
    let message = format!("{} can be read as {full} or as {}", quote(text), number.value);
    let fault = ReadFault::new(Code::AmbiguousQuantity, 0..text.len(), message);
    Some(fault.help(format!("write `{full} {unit}` if thousands are meant")).choices([format!("{full} {unit}")]))
}

/// In the unit it was written in, a quantity has the value that was written, to the last bit.
pub(super) fn value_in(quantity: &Quantity, unit: &Unit) -> f64 {
    match &quantity.written {
        Some(written) if is_written_in(written, unit) => written.value,
        _ => unit.from_si(quantity.si),
    }
}

pub(super) fn is_written_in(written: &Written, unit: &Unit) -> bool {
    *written.unit == *unit.symbol || (written.unit.is_empty() && &*unit.symbol == "1")
}

/// A stretch of the text without the spaces around it.
pub(super) fn trimmed(text: &str, at: Range<usize>) -> (&str, Range<usize>) {
    let slice = &text[at.clone()];
    let start = at.start + slice.len() - slice.trim_start_matches(is_space).len();
    let inner = slice.trim_matches(is_space);
    (inner, start..start + inner.len())
}
