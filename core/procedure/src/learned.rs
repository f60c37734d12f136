//! What a finished job tells of its family, for the cards of later jobs: a sheet over what was read at some of its steps.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::check::Checker;
use super::expr::Expr;
use super::page::Call;
use standpipe_yaml::{At, Script};

/// The input that takes what was read: a list of records of a time and a value.
pub const READINGS: &str = "readings";

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawLearned {
    /// What it is.
    ///
    /// Example: `title: Time constant of cooling`
    pub title: At<String>,
    /// Which readings tell it.
    ///
    /// Example: `readings: { of: sump_temperature, at: [cool-enough] }`
    pub readings: RawReadings,
    /// The sheet that works it out: it takes `readings`.
    ///
    /// Example: `sheet: cooling-fit`
    pub sheet: At<String>,
    /// Its other inputs; one that the job does not know and the sheet can do without is left out.
    ///
    /// Example: `with: { ambient: job.bay.temperature }`
    #[serde(default)]
    pub with: IndexMap<String, Script>,
    /// The output that is learned.
    ///
    /// Example: `gives: time_constant`
    pub gives: At<String>,
    /// The output that is its standard uncertainty.
    ///
    /// Example: `uncertainty: time_constant_u`
    pub uncertainty: At<String>,
    /// When it is good enough to be relied on: a condition on the outputs.
    ///
    /// Example: `must: time_constant_u < 0.2 * time_constant`
    #[serde(default)]
    pub must: Option<Script>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawReadings {
    /// The name of what was read.
    ///
    /// Example: `of: sump_temperature`
    pub of: At<String>,
    /// Steps at which it was; what was read in vain counts as well, and rows of a log in between.
    ///
    /// Example: `at: [cool-enough-to-open]`
    pub at: Vec<At<String>>,
}

#[derive(Debug)]
pub struct Learned {
    pub title: String,
    pub of: At<String>,
    pub at: Vec<At<String>>,
    pub call: Call,
    pub gives: At<String>,
    pub uncertainty: At<String>,
    pub must: Option<Expr>,
}

impl Checker<'_> {
    pub fn learned(&mut self, raw: IndexMap<At<String>, RawLearned>) -> IndexMap<String, Learned> {
        let mut all = IndexMap::new();
        for (id, raw) in raw {
            self.sheet(&raw.sheet);
            let with = raw.with.into_iter().map(|(name, script)| (name, Expr::new(script))).collect();
            let call = Call { sheet: raw.sheet, with, shows: Vec::new(), earlier: IndexMap::new() };
            let learned = Learned {
                title: raw.title.value,
                of: raw.readings.of,
                at: raw.readings.at,
                call,
                gives: raw.gives,
                uncertainty: raw.uncertainty,
                must: raw.must.map(Expr::new),
            };
            all.insert(id.value, learned);
        }
        all
    }
}
