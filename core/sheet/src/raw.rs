//! Sheets as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node, Sources};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSheet {
    /// Id of the sheet: the name of its file.
    ///
    /// Example: `sheet: drum-room`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub sheet: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    pub title: At<String>,
    /// The function that computes it: a script and a function in it.
    ///
    /// Example: `script: drum::room`
    #[schemars(with = "standpipe_yaml::told::Function")]
    pub script: At<String>,
    /// Where the formula is from, a text each.
    ///
    /// Example: `sources: [Volume of a cylinder]`
    pub sources: Sources,
    /// The formula in words or signs, for people.
    ///
    /// Example: `formula: Cross section x height`
    #[serde(default)]
    pub formula: Option<At<String>>,
    /// Where it holds.
    ///
    /// Example: `holds: A drum that stands upright`
    #[serde(default)]
    pub holds: Option<At<String>>,
    /// What somebody who uses the result has to know.
    ///
    /// Example: `cautions: [It is a first fill, not the level.]`
    #[serde(default)]
    pub cautions: Vec<At<String>>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    pub invented: bool,
    /// Replaces the document with the same id in an earlier plugin.
    ///
    /// Example: `override: true`
    #[serde(default, rename = "override")]
    #[allow(dead_code)] // read when plugins are layered
    pub overrides: bool,
    /// What goes in, each under the name that the script sees.
    ///
    /// Example: `inputs: { dip: { is: length, at_least: 0 mm } }`
    #[serde(default)]
    pub inputs: IndexMap<At<String>, RawInput>,
    /// What comes out.
    ///
    /// Example: `outputs: { room: { is: volume, unit: L } }`
    pub outputs: IndexMap<At<String>, RawOutput>,
}

/// What a value is: `is:` or `one_of:`, and the `fields:` of a record.
#[derive(Debug)]
pub struct RawShape {
    pub is: Option<At<String>>,
    pub one_of: Option<Vec<At<String>>>,
    pub fields: Option<IndexMap<At<String>, Node>>,
}

// The keys of a shape stand in each of these: nesting them would need `flatten`, which loses places.

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawInput {
    /// What kind of value it takes: a quantity, `range of` one, `list of` these, `text`, `count`, `number`, `date`,
    /// `truth` or `record`.
    ///
    /// Example: `is: volume`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::ValueKind>")]
    pub is: Option<At<String>>,
    /// The choices; in place of `is:`.
    ///
    /// Example: `one_of: [light, normal, severe]`
    #[serde(default)]
    pub one_of: Option<Vec<At<String>>>,
    /// What stands in a record, beside `is: record` or `is: list of record`.
    ///
    /// Example: `fields: { mass: { is: mass } }`
    #[serde(default)]
    pub fields: Option<IndexMap<At<String>, Node>>,
    /// It may be left out; the script has to ask whether it is there.
    ///
    /// Example: `optional: true`
    #[serde(default)]
    pub optional: bool,
    /// What is taken where it is left out.
    ///
    /// Example: `default: 15 degC`
    #[serde(default)]
    pub default: Option<Node>,
    /// What it is, for those who enter it.
    ///
    /// Example: `help: How far up the stick is wet`
    #[serde(default)]
    pub help: Option<At<String>>,
    /// A value below is refused.
    ///
    /// Example: `at_least: 0 L`
    #[serde(default)]
    pub at_least: Option<Node>,
    /// A value above is refused.
    ///
    /// Example: `at_most: 1 m`
    #[serde(default)]
    pub at_most: Option<Node>,
    /// Where the formula holds.
    ///
    /// Example: `valid: -10..120 degC`
    #[serde(default)]
    pub valid: Option<Node>,
    /// What happens beyond `valid:`: `warn` or `refuse`. Left out: `warn`.
    ///
    /// Example: `outside: refuse`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Outside>")]
    pub outside: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawOutput {
    /// What kind of value it is.
    ///
    /// Example: `is: volume`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::ValueKind>")]
    pub is: Option<At<String>>,
    /// What it can say, in words.
    ///
    /// Example: `one_of: [balanced, short, over]`
    #[serde(default)]
    pub one_of: Option<Vec<At<String>>>,
    /// What stands in a record.
    ///
    /// Example: `fields: { likely: { is: time } }`
    #[serde(default)]
    pub fields: Option<IndexMap<At<String>, Node>>,
    /// It may not be there.
    ///
    /// Example: `optional: true`
    #[serde(default)]
    pub optional: bool,
    /// The unit that it is shown in.
    ///
    /// Example: `unit: L`
    #[serde(default)]
    pub unit: Option<At<String>>,
    /// What it is.
    ///
    /// Example: `help: More in than out is positive`
    #[serde(default)]
    pub help: Option<At<String>>,
}

/// One entry of a record, where more is to be said of it than what it is.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawPart {
    #[serde(default)]
    pub is: Option<At<String>>,
    #[serde(default)]
    pub one_of: Option<Vec<At<String>>>,
    #[serde(default)]
    pub optional: bool,
}
