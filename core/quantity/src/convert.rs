//! One quantity in another unit, or in all units it has.

use std::error::Error;
use std::fmt;

use super::family::Unit;
use super::fault::{ReadFault, quote};
use super::number;
use super::read::value_in;
use super::round::{significant, trim_zeros};
use super::symbol::normal;
use super::{Name, Purpose, Quantity, Style, Units};
use crate::value::Value;
use standpipe_diagnostic::Code;

/// A quantity given in another unit.
#[derive(Clone, Debug)]
pub struct Converted {
    /// The quantity it is (`volume`).
    pub quantity: Name,
    /// What was to be converted.
    pub from: Quantity,
    /// Symbol of the unit it is given in.
    pub unit: Name,
    /// With all its digits.
    pub value: f64,
    /// Six significant digits and the unit.
    pub shown: String,
    /// With the precision that was written, and the unit.
    pub rounded: String,
}

/// Which of the two texts is at fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The quantity as written.
    Quantity,
    /// The unit that was wanted.
    Unit,
}

/// A conversion that can't be made; `fault.range` counts in the text of `side`.
#[derive(Clone, Debug)]
pub struct ConvertFault {
    /// Which of the two texts is at fault.
    pub side: Side,
    /// What is wrong with it.
    pub fault: ReadFault,
}

impl fmt::Display for ConvertFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.fault)
    }
}

impl Error for ConvertFault {}

/// Gives the quantity written as `text` in the unit `to`. The two settle together what either alone leaves open: `oz`
/// is a mass beside grams.
pub fn convert(units: &Units, text: &str, to: &str) -> Result<Converted, ConvertFault> {
    let form = normal(to);
    let entries = units.index.get(&form).map_or(&[][..], Vec::as_slice);
    let mut families: Vec<(bool, usize)> = entries.iter().map(|entry| (entry.own, entry.family)).collect();
    families.sort_by_key(|(own, family)| (!*own, *family));
    let unclear = units.ambiguous.get(&form).into_iter().flatten().copied();
    for family in families.iter().map(|(_, family)| *family).chain(unclear) {
        let Some((name, of)) = units.families.get_index(family) else { continue };
        let value = match units.read(text, Some(name), None) {
            Ok(value) => value,
            // Below the lowest there is, it does not become a difference instead.
            Err(fault) if of.lowest.is_some() && fault.code == Code::NotAQuantity && has_unit(text) => {
                return Err(fault_of(Side::Quantity, fault));
            }
            Err(_) => continue,
        };
        let found = units.resolve(to, Some(name), 0..to.len()).map_err(|fault| fault_of(Side::Unit, fault))?;
        return Ok(converted(units, name, &quantity_of(value), found.unit));
    }
    // Nothing fits: say what is wrong with the quantity first, then with the unit, then with the pair.
    let value = units.read(text, None, None).map_err(|fault| fault_of(Side::Quantity, fault))?;
    let quantity = quantity_of(value);
    if quantity.is_plain() {
        let fault = ReadFault::new(Code::NotAQuantity, 0..text.len(), format!("{} has no unit", quote(text)));
        return Err(fault_of(Side::Quantity, fault.help(format!("write e.g. `{} {to}`", text.trim()))));
    }
    let asked = units.family_of(&quantity).map(|family| family.name);
    Err(match units.resolve(to, asked.as_deref(), 0..to.len()) {
        Err(fault) => fault_of(Side::Unit, fault),
        Ok(_) => {
            let message = format!("{} can't be given in {}", units.describe(&quantity), quote(to));
            fault_of(Side::Unit, ReadFault::new(Code::WrongQuantity, 0..to.len(), message))
        }
    })
}

fn has_unit(text: &str) -> bool {
    number::read(text, 0).is_ok_and(|number| !text[number.end..].trim().is_empty())
}

/// The quantity in every unit of its family, in the order of the unit file.
pub fn convert_to_all(units: &Units, text: &str) -> Result<Vec<Converted>, ReadFault> {
    let quantity = quantity_of(units.read(text, None, None)?);
    let Some(family) = units.family_of(&quantity) else {
        return Err(ReadFault::new(Code::NotAQuantity, 0..text.len(), format!("{} has no unit", quote(text))));
    };
    Ok(family.units.values().map(|unit| converted(units, &family.name, &quantity, unit)).collect())
}

fn converted(units: &Units, name: &Name, from: &Quantity, unit: &Unit) -> Converted {
    let value = value_in(from, unit);
    let number = significant(value, 6);
    let style = Style::default();
    let with_unit = |number: &str| match &*unit.symbol {
        "1" => number.to_owned(),
        symbol => format!("{number} {symbol}"),
    };
    Converted {
        quantity: *name,
        from: from.clone(),
        unit: unit.symbol,
        value,
        shown: with_unit(trim_zeros(&number)),
        rounded: units.show_in(from, &unit.symbol, &style.with(Purpose::Reading)).unwrap_or_else(|| with_unit(&number)),
    }
}

fn quantity_of(value: Value) -> Quantity {
    match value {
        Value::Quantity(quantity) => quantity,
        Value::Number(number) => Quantity::number(number),
        _ => Quantity::number(f64::NAN),
    }
}

fn fault_of(side: Side, fault: ReadFault) -> ConvertFault {
    ConvertFault { side, fault }
}
