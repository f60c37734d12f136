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
    /// What it is, as in "Time in which it warms through".
    pub title: At<String>,
    pub readings: RawReadings,
    /// It takes `readings`, and gives `gives`.
    pub sheet: At<String>,
    /// Its other inputs; one that the job does not know and the sheet can do without is left out.
    #[serde(default)]
    pub with: IndexMap<String, Script>,
    /// The output that is learned.
    pub gives: At<String>,
    /// The output that is its standard uncertainty.
    pub uncertainty: At<String>,
    /// On the outputs: when it is good enough to be relied on.
    #[serde(default)]
    pub must: Option<Script>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawReadings {
    /// Name of what was read.
    pub of: At<String>,
    /// Steps at which it was; what was read in vain counts as well, and rows of a log or a reader in between.
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
