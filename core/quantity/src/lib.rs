#![doc = include_str!("../README.md")]

pub mod series;
pub mod table;
pub mod value;

mod arithmetic;
mod convert;
mod dimension;
mod factor;
mod family;
mod fault;
mod file;
mod kind;
mod lookup;
mod name;
mod number;
mod range;
mod read;
mod round;
mod scale;
mod show;
mod symbol;
mod uncertain;
mod units;

#[cfg(test)]
mod sample;
#[cfg(test)]
mod tests;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use arithmetic::close;
pub use convert::{ConvertFault, Converted, Side, convert, convert_to_all};
pub use dimension::Dimension;
pub use family::{Unit, UnitFamily};
pub use fault::{DimensionFault, ReadFault};
pub use file::{UnitsFile, schema};
pub use kind::{Kind, UnknownKind};
pub use name::Name;
pub use scale::Scale;
pub use show::{Graduation, Purpose, Style, System};
pub use uncertain::{ShownUncertain, Uncertain, starts_with_number};
pub use units::Units;

/// A number in coherent base units with its dimension.
///
/// A temperature is a point on a scale and carries `point: true`; the difference of two points does not.
/// Two families may share a dimension and still be different things (a turning moment is no energy): `of` remembers
/// which family a value was read or asked as, addition and comparison refuse two families that declare themselves
/// distinct, products and quotients forget it.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Quantity {
    /// Value in base units: m, kg, s, K, and the currency of the shop.
    pub si: f64,
    #[serde(default, skip_serializing_if = "Dimension::is_none")]
    pub dimension: Dimension,
    #[serde(default, skip_serializing_if = "is_false")]
    pub point: bool,
    /// The unit family it is known to belong to (`volume`), if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<Name>,
    /// How it was written, when it was: a reading keeps its precision.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub written: Option<Written>,
}

/// Number and unit as somebody wrote them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Written {
    pub value: f64,
    /// Symbol of the unit (`lbf·ft`); empty for a plain number.
    pub unit: Name,
    /// Digits after the decimal point.
    pub decimals: u8,
}

impl Quantity {
    /// A value in base units that nobody wrote.
    pub fn new(si: f64, dimension: Dimension) -> Self {
        Self { si, dimension, point: false, of: None, written: None }
    }

    /// A pure number.
    pub fn number(value: f64) -> Self {
        Self::new(value, Dimension::NONE)
    }

    /// Whether it is a number and nothing more: no dimension and no family.
    pub fn is_plain(&self) -> bool {
        self.dimension.is_none() && self.of.is_none()
    }
}

fn is_false(value: &bool) -> bool {
    !*value
}

impl PartialEq for Quantity {
    fn eq(&self, other: &Self) -> bool {
        self.dimension == other.dimension && self.point == other.point && self.si == other.si
    }
}
