//! Blocks and pictures as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Script};

/// A heading of a card or a record, and what stands below it.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawBlock {
    pub title: At<String>,
    /// Sentences with `{placeholders}`.
    #[serde(default)]
    pub say: Vec<At<String>>,
    /// Fields of the form, such as `level.window`.
    #[serde(default)]
    pub facts: Vec<At<String>>,
    #[serde(default)]
    pub compute: Option<RawCall>,
    #[serde(default)]
    pub settings: Option<RawSettings>,
    /// On a record: steps whose gates show it.
    #[serde(default)]
    pub shown_by: Vec<At<String>>,
    /// On a record: what it comes to, in one sentence that stands before everything else.
    #[serde(default)]
    pub answer: Option<RawAnswer>,
    /// On a record: its sentences stand on the customer's page as well.
    #[serde(default)]
    pub for_customer: bool,
}

/// Shown if every step of `shown_by` is met or done; otherwise the record says which is not.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAnswer {
    /// What is shown or not, as in "lid closed at the right heat".
    pub what: At<String>,
    /// What was found, said only where it is shown.
    #[serde(default)]
    pub found: Option<At<String>>,
    /// What has to be so in the end as well, where no gate asks it: a correction may have come later.
    #[serde(default)]
    pub must: Option<Script>,
    /// The step whose time is told.
    pub step: At<String>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCall {
    pub sheet: At<String>,
    #[serde(default)]
    pub with: IndexMap<String, Script>,
    /// On a card: inputs that come from finished jobs of the same family where `with` knows none, by what they are called in
    /// `learned:` of this procedure.
    #[serde(default)]
    pub earlier: IndexMap<String, At<String>>,
    /// Outputs to show; all of them if none is named.
    #[serde(default)]
    pub shows: Vec<At<String>>,
}

/// Every value of one quantity among the facts, on every instrument of one kind.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSettings {
    pub is: At<String>,
    pub instrument: At<String>,
}

/// Exactly one of `layout`, `course`, `balance`, `curve`, `rounds` says what is drawn.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawPicture {
    pub picture: At<String>,
    pub title: At<String>,
    /// `card`, `record`; both if nothing is said.
    #[serde(default)]
    pub pages: Vec<At<String>>,
    #[serde(default)]
    pub layout: Option<RawLayout>,
    #[serde(default)]
    pub course: Option<RawCourse>,
    #[serde(default)]
    pub balance: Option<RawBalance>,
    #[serde(default)]
    pub curve: Option<RawCurve>,
    #[serde(default)]
    pub rounds: Option<RawCurve>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawLayout {
    /// An `each` step.
    pub step: At<String>,
    /// A list of records with `x` and `y`, such as `table("id")`.
    pub places: Script,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCourse {
    /// Names of readings.
    pub of: Vec<At<String>>,
    /// A range that they had to lie in.
    #[serde(default)]
    pub window: Option<Script>,
    /// A single value to draw a line at.
    #[serde(default)]
    pub limit: Option<Script>,
    /// Steps to mark when they were done.
    #[serde(default)]
    pub marks: Vec<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawBalance {
    /// Names of readings and results.
    pub added: Vec<At<String>>,
    pub removed: Vec<At<String>>,
    #[serde(default)]
    pub net: Option<Script>,
    /// By how much the net may be wrong.
    #[serde(default)]
    pub uncertainty: Option<Script>,
    #[serde(default)]
    pub allowed: Option<Script>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCurve {
    pub sheet: At<String>,
    /// The input that runs from one end to the other.
    pub over: At<String>,
    pub from: At<String>,
    pub to: At<String>,
    /// The other inputs.
    #[serde(default)]
    pub with: IndexMap<String, Script>,
    /// The output that is drawn.
    pub gives: At<String>,
    /// Its unit, where the shop's would not do, such as `%`.
    #[serde(default)]
    pub unit: Option<At<String>>,
    /// Where it stands today.
    #[serde(default)]
    pub at: Option<Script>,
}
