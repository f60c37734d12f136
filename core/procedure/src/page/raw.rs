//! Blocks and pictures as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Script};

/// A heading of a card or a record, and what stands below it.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawBlock {
    /// The heading.
    ///
    /// Example: `title: Was the level set properly?`
    pub title: At<String>,
    /// Sentences with `{placeholders}`.
    ///
    /// Example: `say: ["Closed at {close_temperature}."]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Template>")]
    pub say: Vec<At<String>>,
    /// Fields of the form whose values are listed.
    ///
    /// Example: `facts: [drain.run, cycle.hold]`
    #[serde(default)]
    pub facts: Vec<At<String>>,
    /// A calculation whose results are listed.
    ///
    /// Example: `compute: { sheet: quote, with: { hours: 2.h } }`
    #[serde(default)]
    pub compute: Option<RawCall>,
    /// On a card: what to set on the shop's own instruments for each value of this quantity.
    ///
    /// Example: `settings: { is: torque, instrument: torque-wrench }`
    #[serde(default)]
    pub settings: Option<RawSettings>,
    /// On a record: steps whose gates show it.
    ///
    /// Example: `shown_by: [level-plug-out]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
    pub shown_by: Vec<At<String>>,
    /// On a record: what it comes to, in one sentence that stands before everything else.
    ///
    /// Example: `answer: { what: level set, found: "closed at {close_temperature}", step: close }`
    #[serde(default)]
    pub answer: Option<RawAnswer>,
    /// On a record: its sentences stand on the customer's page as well.
    ///
    /// Example: `for_customer: true`
    #[serde(default)]
    pub for_customer: bool,
}

/// Shown if every step of `shown_by` is met or done; otherwise the record says which is not.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAnswer {
    /// What is shown or not.
    ///
    /// Example: `what: "level set within {spec.level.window}"`
    pub what: At<String>,
    /// What was found, said only where it is shown.
    ///
    /// Example: `found: "closed at {close_temperature}"`
    #[serde(default)]
    pub found: Option<At<String>>,
    /// What has to be so in the end as well, where no gate asks it: a correction may have changed it.
    ///
    /// Example: `must: dripping == "thin drip"`
    #[serde(default)]
    pub must: Option<Script>,
    /// The step whose time is told.
    ///
    /// Example: `step: close-in-the-window`
    pub step: At<String>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCall {
    /// The sheet that is run.
    ///
    /// Example: `sheet: quote`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub sheet: At<String>,
    /// Its inputs, each an expression.
    ///
    /// Example: `with: { hours: 2.h }`
    #[serde(default)]
    pub with: IndexMap<String, Script>,
    /// On a card: inputs that come from finished jobs of the same family where nobody has entered a value.
    ///
    /// Example: `earlier: { time_constant: cooling }`
    #[serde(default)]
    pub earlier: IndexMap<String, At<String>>,
    /// Outputs to show; all of them, if left out.
    ///
    /// Example: `shows: [bring, left_over]`
    #[serde(default)]
    pub shows: Vec<At<String>>,
}

/// Every value of one quantity among the facts, on every instrument of one kind.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSettings {
    /// The quantity.
    ///
    /// Example: `is: torque`
    pub is: At<String>,
    /// The kind of instrument.
    ///
    /// Example: `instrument: torque-wrench`
    pub instrument: At<String>,
}

/// Exactly one of `layout`, `course`, `balance`, `curve`, `rounds` says what is drawn.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawPicture {
    /// Id of the picture.
    ///
    /// Example: `picture: level-temperature`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub picture: At<String>,
    /// What stands above it.
    ///
    /// Example: `title: Temperature while the level was set`
    pub title: At<String>,
    /// `card`, `record`; both, if left out.
    ///
    /// Example: `pages: [record]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Page>")]
    pub pages: Vec<At<String>>,
    /// Items of an `each` step where they lie, in their order.
    ///
    /// Example: `layout: { step: refit-pan, places: table("pan-10") }`
    #[serde(default)]
    pub layout: Option<RawLayout>,
    /// Readings over time, with window, limit and marks.
    ///
    /// Example: `course: { of: [sump_temperature], window: spec.level.window }`
    #[serde(default)]
    pub course: Option<RawCourse>,
    /// What was added against what was removed.
    ///
    /// Example: `balance: { added: [filled], removed: [drained] }`
    #[serde(default)]
    pub balance: Option<RawBalance>,
    /// An output of a sheet over one of its inputs.
    ///
    /// Example: `curve: { sheet: level-error, over: set_at, from: 20.degC, to: 60.degC, gives: error }`
    #[serde(default)]
    pub curve: Option<RawCurve>,
    /// A curve over whole numbers, as steps.
    ///
    /// Example: `rounds: { sheet: fluid-share-new, over: rounds, from: 0, to: 4, gives: new_share }`
    #[serde(default)]
    pub rounds: Option<RawCurve>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawLayout {
    /// The `each` step.
    ///
    /// Example: `step: refit-pan`
    pub step: At<String>,
    /// A list of records with `x` and `y`.
    ///
    /// Example: `places: table("pan-10")`
    pub places: Script,
    /// What lies at the top of the picture, and from where it is seen.
    ///
    /// Example: `up: "front, seen from below"`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Template>")]
    pub up: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCourse {
    /// Names of readings.
    ///
    /// Example: `of: [sump_temperature]`
    pub of: Vec<At<String>>,
    /// The range that they had to lie in.
    ///
    /// Example: `window: spec.level.window`
    #[serde(default)]
    pub window: Option<Script>,
    /// A value to draw a line at.
    ///
    /// Example: `limit: spec.level.start_below`
    #[serde(default)]
    pub limit: Option<Script>,
    /// Steps to mark when they were done.
    ///
    /// Example: `marks: [level-plug-out]`
    #[serde(default)]
    pub marks: Vec<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawBalance {
    /// Names of readings and results that went in.
    ///
    /// Example: `added: [filled]`
    pub added: Vec<At<String>>,
    /// Names of those that came out.
    ///
    /// Example: `removed: [drained, overflow]`
    pub removed: Vec<At<String>>,
    /// What is left over, where it is computed.
    ///
    /// Example: `net: ledger.net`
    #[serde(default)]
    pub net: Option<Script>,
    /// By how much that may be wrong.
    ///
    /// Example: `uncertainty: ledger.uncertainty`
    #[serde(default)]
    pub uncertainty: Option<Script>,
    /// By how much it may be off.
    ///
    /// Example: `allowed: spec.capacity.tolerance`
    #[serde(default)]
    pub allowed: Option<Script>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCurve {
    /// The sheet that is run.
    ///
    /// Example: `sheet: fluid-share-new`
    pub sheet: At<String>,
    /// The input that runs from one end to the other.
    ///
    /// Example: `over: rounds`
    pub over: At<String>,
    /// Where it begins.
    ///
    /// Example: `from: 20.degC`
    pub from: At<String>,
    /// Where it ends.
    ///
    /// Example: `to: 60.degC`
    pub to: At<String>,
    /// The other inputs.
    ///
    /// Example: `with: { total: spec.capacity.total }`
    #[serde(default)]
    pub with: IndexMap<String, Script>,
    /// The output that is drawn.
    ///
    /// Example: `gives: new_share`
    pub gives: At<String>,
    /// Its unit, where the shop's would not do.
    ///
    /// Example: `unit: "%"`
    #[serde(default)]
    pub unit: Option<At<String>>,
    /// Where it stands today.
    ///
    /// Example: `at: close_temperature`
    #[serde(default)]
    pub at: Option<Script>,
}
