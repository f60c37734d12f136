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
        if !self.is_known(unit) && (separator(text, number.end).is_some() || starts_number(unit)) {
            let message = format!("{} is more than one number, but one value is asked for", quote(text));
            return Err(ReadFault::new(Code::NotAQuantity, 0..text.len(), message));
        }
        let found = self.unit_or_bare(text, unit, at, asked, bare)?;
        let quantity = self.build(text, number, found.as_ref())?;
        let whole = found.as_ref().is_some_and(|found| found.family.whole);
        Ok(if found.is_none() || whole { Value::Number(quantity.si) } else { Value::Quantity(quantity) })
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
