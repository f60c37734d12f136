//! A file of unit families as written.

use std::borrow::Cow;
use std::sync::Arc;

use indexmap::IndexMap;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer, Visitor};

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Problems, has_errors};
use standpipe_yaml::At;

/// `units/*.yaml` of a plugin, before anything in it was checked.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnitsFile {
    /// Id of the file: its name without the ending.
    ///
    /// Example: `units: volume`
    pub units: String,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    #[serde(default)]
    pub title: Option<String>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    pub invented: bool,
    /// Where its factors are from.
    ///
    /// Example: `sources: [{ covers: all, from: definitions }]`
    #[serde(default)]
    pub sources: Vec<serde_json::Value>,
    /// Its units replace those with the same symbol in an earlier plugin.
    ///
    /// Example: `override: true`
    #[serde(default, rename = "override")]
    pub replaces: bool,
    /// Quantities by name, each with its units.
    ///
    /// Example: `quantities: { strokes: { dimension: "1", shown: { metric: stroke, inch: stroke }, units: { stroke: { factor: 1 } } } }`
    pub quantities: IndexMap<At<String>, RawFamily>,
}

/// The units of one quantity as written.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawFamily {
    /// What it is made of: length, mass, time, temperature and money with `*`, `/` and `^`, or `1` for a pure number.
    ///
    /// Example: `dimension: mass / length^3`
    pub dimension: At<String>,
    /// Quantities of the same dimension that are something else and never mixed with it.
    ///
    /// Example: `distinct_from: [energy]`
    #[serde(default)]
    pub distinct_from: Vec<At<String>>,
    /// It is a point on a scale, such as a temperature: differences of it are of another quantity.
    ///
    /// Example: `point: true`
    #[serde(default)]
    pub point: bool,
    /// The quantity of the differences between two points.
    ///
    /// Example: `difference: temperature-difference`
    #[serde(default)]
    pub difference: Option<At<String>>,
    /// Multiplying by it leaves the quantity as it is: a share, a count.
    ///
    /// Example: `plain: true`
    #[serde(default)]
    pub plain: bool,
    /// Whole numbers only.
    ///
    /// Example: `whole: true`
    #[serde(default)]
    pub whole: bool,
    /// The lowest possible value, in base units.
    ///
    /// Example: `lowest: 0`
    #[serde(default)]
    pub lowest: Option<f64>,
    /// Which of its units people see; needed once for each quantity.
    ///
    /// Example: `shown: { metric: L, inch: US qt }`
    #[serde(default)]
    pub shown: Option<RawShown>,
    /// Its units, each by its symbol.
    ///
    /// Example: `units: { dL: { factor: 0.0001, script: dL } }`
    pub units: IndexMap<At<String>, RawUnit>,
    /// What people write that could mean several units, and which; such a text is refused.
    ///
    /// Example: `ambiguous: { gal: [US gal, imp gal] }`
    #[serde(default)]
    pub ambiguous: IndexMap<String, Vec<At<String>>>,
}

/// Symbols of the units that people see.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawShown {
    /// The unit for those who measure in metres.
    ///
    /// Example: `metric: L`
    pub metric: At<String>,
    /// The unit for those who measure in inches.
    ///
    /// Example: `inch: US qt`
    pub inch: At<String>,
}

/// One unit as written.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawUnit {
    /// How many base units one of it is: a number, or an exact expression.
    ///
    /// Example: `factor: 0.45359237 / 16`
    pub factor: At<Factor>,
    /// What is added to a value before it is multiplied by the factor, for scales with another zero.
    ///
    /// Example: `shift: 273.15`
    #[serde(default)]
    pub shift: Option<At<Factor>>,
    /// Other ways in which people write it.
    ///
    /// Example: `also: [litre, litres]`
    #[serde(default)]
    pub also: Vec<String>,
    /// Its name in expressions, after a number and a point.
    ///
    /// Example: `script: N_m`
    #[serde(default)]
    pub script: Option<At<String>>,
    /// Digits after the point where habit fixes them, as with money.
    ///
    /// Example: `decimals: 2`
    #[serde(default)]
    pub decimals: Option<u8>,
    /// People count thousands of it and never a thousandth: `88.000` has two readings and is refused.
    ///
    /// Example: `in_thousands: true`
    #[serde(default)]
    pub in_thousands: bool,
}

/// A factor as written: a number or an expression.
#[derive(Clone, Debug)]
pub struct Factor(pub String);

impl JsonSchema for Factor {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Factor".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["number", "string"] })
    }
}

impl<'de> Deserialize<'de> for Factor {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct AnyFactor;
        impl Visitor<'_> for AnyFactor {
            type Value = Factor;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a number or an expression such as `0.45359237 * 9.80665`")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Factor, E> {
                Ok(Factor(text.to_owned()))
            }

            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Factor, E> {
                Ok(Factor(value.to_string()))
            }

            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Factor, E> {
                Ok(Factor(value.to_string()))
            }

            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Factor, E> {
                Ok(Factor(value.to_string()))
            }
        }
        deserializer.deserialize_any(AnyFactor)
    }
}

impl UnitsFile {
    /// Reads a file without checking what it says of units; [`Units::extend`](crate::Units::extend) does that.
    ///
    /// Errors: everything that is wrong with it as a file, each at its line.
    pub fn read(source: &Arc<Source>) -> Result<Self, Problems> {
        let mut problems = Problems::new();
        let file = standpipe_yaml::read(source, &mut problems);
        file.filter(|_| !has_errors(&problems)).ok_or(problems)
    }
}

/// What editors are told of a file of units.
pub fn schema() -> Schema {
    schemars::schema_for!(UnitsFile)
}
