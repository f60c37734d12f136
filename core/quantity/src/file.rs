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
    /// Id of the file.
    pub units: String,
    /// What people call it.
    #[serde(default)]
    pub title: Option<String>,
    /// Nothing in it is from the real world.
    #[serde(default)]
    pub invented: bool,
    /// Where its factors come from.
    #[serde(default)]
    pub sources: Vec<serde_json::Value>,
    /// Replaces units that another file defined.
    #[serde(default, rename = "override")]
    pub replaces: bool,
    /// Families by name.
    pub quantities: IndexMap<At<String>, RawFamily>,
}

/// The units of one quantity as written.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawFamily {
    /// `length^3`, `mass/length^3`, `1`.
    pub dimension: At<String>,
    /// Families of the same dimension that are something else.
    #[serde(default)]
    pub distinct_from: Vec<At<String>>,
    /// A point on a scale: differences of it belong to another family.
    #[serde(default)]
    pub point: bool,
    /// The family of the differences between two points.
    #[serde(default)]
    pub difference: Option<At<String>>,
    /// Something times this remains what it is: a ratio, a count.
    #[serde(default)]
    pub plain: bool,
    /// Whole numbers only.
    #[serde(default)]
    pub whole: bool,
    /// Nothing lies below, in base units.
    #[serde(default)]
    pub lowest: Option<f64>,
    /// Which units people see; needed once for each quantity.
    #[serde(default)]
    pub shown: Option<RawShown>,
    /// By symbol.
    pub units: IndexMap<At<String>, RawUnit>,
    /// What people write and what it could mean.
    #[serde(default)]
    pub ambiguous: IndexMap<String, Vec<At<String>>>,
}

/// Symbols of the units that people see.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawShown {
    /// For those who measure in metres.
    pub metric: At<String>,
    /// For those who measure in inches.
    pub inch: At<String>,
}

/// One unit as written.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawUnit {
    /// What one of it is in base units.
    pub factor: At<Factor>,
    /// si = (x + shift) * factor
    #[serde(default)]
    pub shift: Option<At<Factor>>,
    /// Other ways to write it.
    #[serde(default)]
    pub also: Vec<String>,
    /// Its name as a property of numbers in scripts.
    #[serde(default)]
    pub script: Option<At<String>>,
    /// Digits after the point of a computed value, where habit fixes them (money).
    #[serde(default)]
    pub decimals: Option<u8>,
    /// People count in thousands of it and never to a thousandth: `88.000 km` has two readings and is refused.
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
