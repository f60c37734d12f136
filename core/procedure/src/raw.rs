//! Procedures as written. Every field is what stands in the file; only [`super::check`] makes sense of it.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::learned::RawLearned;
use super::mark::Mark;
use super::page::raw::{RawBlock, RawPicture};
use standpipe_yaml::{At, Script, Sources};

pub use super::step::RawStep;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawProcedure {
    pub procedure: At<String>,
    #[serde(default)]
    pub form: Option<At<String>>,
    pub title: At<String>,
    #[serde(default)]
    pub invented: bool,
    #[serde(default, rename = "override")]
    pub overrides: bool,
    #[serde(default)]
    pub sources: Option<Sources>,
    #[serde(default)]
    pub needs: Vec<At<String>>,
    #[serde(default)]
    pub reachable: Vec<At<String>>,
    #[serde(default)]
    pub on_pause: Option<At<String>>,
    #[serde(default)]
    pub on_resume: Option<At<String>>,
    #[serde(default)]
    pub tag: Vec<RawTag>,
    #[serde(default)]
    pub abandon_when: Option<Script>,
    #[serde(default)]
    pub may_accept: Vec<At<String>>,
    #[serde(default)]
    pub cautions: IndexMap<String, At<String>>,
    /// What an audit looks at besides what it looks at in every record: a condition on the job as it ended.
    #[serde(default)]
    pub points: IndexMap<String, Script>,
    /// What a table of many jobs says of each, besides what it says of every job.
    #[serde(default)]
    pub columns: IndexMap<String, Script>,
    pub steps: Vec<At<RawStep>>,
    /// Headings of the card.
    #[serde(default)]
    pub card: Vec<RawBlock>,
    /// Headings of the record.
    #[serde(default)]
    pub record: Vec<RawBlock>,
    #[serde(default)]
    pub pictures: Vec<RawPicture>,
    /// What a finished job tells of its family, for the cards of later jobs.
    #[serde(default)]
    pub learned: IndexMap<At<String>, RawLearned>,
    /// What overlays took out.
    #[serde(skip)]
    pub left_out: Vec<(At<RawStep>, Mark)>,
}

impl RawProcedure {
    /// Every other procedure that it names: included, called, or run when pausing.
    pub fn names(&self) -> Vec<&At<String>> {
        fn included<'a>(steps: &'a [At<RawStep>], names: &mut Vec<&'a At<String>>) {
            for step in steps {
                names.extend(step.value.included());
                included(&step.value.steps, names);
            }
        }
        let mut names: Vec<_> = self.reachable.iter().chain(&self.on_pause).chain(&self.on_resume).collect();
        included(&self.steps, &mut names);
        names
    }
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawTag {
    pub text: At<String>,
    #[serde(default)]
    pub when: Option<Script>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawGate {
    pub must: Script,
    #[serde(default)]
    pub otherwise: Option<At<RawOtherwise>>,
    #[serde(default)]
    pub at_stake: Option<At<String>>,
    /// How likely it must be that the condition is met, given what instruments may be off: `95 %`.
    #[serde(default)]
    pub confidence: Option<At<String>>,
    /// What overlays demand beside `must`.
    #[serde(skip)]
    pub tightened: Vec<Script>,
}

/// `otherwise: wait`, or `otherwise: { ask: [roles] }`.
#[derive(Debug)]
pub enum RawOtherwise {
    Word(String),
    Ask(Vec<At<String>>),
}

/// One value to read: exactly one of `is`, `one_of` and `recognise` says what it is.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawField {
    /// `text`, `count`, `date`, `person` or the name of a quantity.
    #[serde(default)]
    pub is: Option<At<String>>,
    #[serde(default)]
    pub one_of: Option<RawOptions>,
    /// What the variant is told by: a field of the form's `recognised_by`.
    #[serde(default)]
    pub recognise: Option<At<String>>,
    #[serde(default)]
    pub ask: Option<At<String>>,
    /// The kind of instrument it is read with.
    #[serde(default)]
    pub instrument: Option<At<String>>,
    #[serde(default)]
    pub unit: Option<At<String>>,
    #[serde(default)]
    pub at_least: Option<At<String>>,
    #[serde(default)]
    pub at_most: Option<At<String>>,
    #[serde(default)]
    pub other_than: Option<At<String>>,
    #[serde(default)]
    pub optional: bool,
    #[serde(default)]
    pub stale: Option<At<String>>,
}

/// A list of options, or options with an explanation each.
#[derive(Debug)]
pub enum RawOptions {
    Names(Vec<At<String>>),
    Explained(IndexMap<String, At<String>>),
}

/// One string, or a list of strings.
#[derive(Debug, Default)]
pub struct OneOrMany(pub Vec<String>);
