//! A model as it is written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawModel {
    pub model: At<String>,
    #[serde(default)]
    pub title: Option<At<String>>,
    #[serde(default)]
    pub invented: bool,
    /// The form whose families its units are of.
    pub form: At<String>,
    /// Procedures that it can answer.
    pub serves: Vec<At<String>>,
    /// The script of its functions; `fresh` and `advance` are among them.
    pub script: At<String>,
    /// A shop file in its plugin, for where none is named.
    #[serde(default)]
    pub shop: Option<At<String>>,
    /// The facts of its jobs, as a job file has them.
    #[serde(default)]
    pub job: IndexMap<At<String>, Node>,
    /// What is known of the family, worked out once; scripts see it beside the draws.
    #[serde(default)]
    pub known: IndexMap<At<String>, Script>,
    /// What differs from unit to unit.
    #[serde(default)]
    pub draws: IndexMap<At<String>, At<RawSpread>>,
    #[serde(default)]
    pub faults: IndexMap<At<String>, RawFault>,
    /// What is true of what is asked, by the name of the value, or `step.name` at one step.
    #[serde(default)]
    pub truth: IndexMap<At<String>, At<RawTruth>>,
    /// Functions that change the hidden state: when a step was really done, or the event that steps raise; as `step.again`
    /// when it is asked again because its gate was not met; as `procedure.done` when one that was called is through.
    #[serde(default)]
    pub effects: IndexMap<At<String>, At<String>>,
    /// How long things take, by kind of step or by step.
    #[serde(default)]
    pub times: IndexMap<At<String>, At<String>>,
    /// When somebody calls a procedure that is reachable, told by a function.
    #[serde(default)]
    pub calls: IndexMap<At<String>, At<String>>,
    pub harms: IndexMap<At<String>, RawHarm>,
    /// A function whose result must stay what it was at the start.
    #[serde(default)]
    pub conserved: Option<At<String>>,
    pub sources: Vec<At<String>>,
}

/// How a number is spread: exactly one of these.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSpread {
    /// Alike between two ends.
    #[serde(default)]
    pub uniform: Option<At<String>>,
    /// Mean and standard deviation.
    #[serde(default)]
    pub normal: Option<(At<String>, At<String>)>,
    /// Median, and the factor that one standard deviation is.
    #[serde(default)]
    pub lognormal: Option<(At<String>, At<f64>)>,
    /// A whole number between two ends, both included.
    #[serde(default)]
    pub whole: Option<At<String>>,
    /// Values with their weights.
    #[serde(default)]
    pub one_of: IndexMap<At<String>, f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawFault {
    #[serde(default)]
    pub title: Option<At<String>>,
    /// In what share of jobs.
    pub chance: At<f64>,
    /// Draws that are others with it.
    #[serde(default)]
    pub draws: IndexMap<At<String>, At<RawSpread>>,
    /// What it does to instruments, by kind.
    #[serde(default)]
    pub instruments: IndexMap<At<String>, At<RawOff>>,
    /// Where the chance is from.
    pub source: At<String>,
}

/// What is wrong with an instrument: exactly one of these.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawOff {
    /// So much more than it is.
    #[serde(default)]
    pub by: Option<At<String>>,
    /// So many times what it is.
    #[serde(default)]
    pub times: Option<At<f64>>,
    /// It shows what it showed first.
    #[serde(default)]
    pub stuck: bool,
}

/// What is true of what is asked: exactly one of these.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawTruth {
    /// A function.
    #[serde(default)]
    pub is: Option<At<String>>,
    /// A function that says what somebody wants the instrument to show: what is really done is off by its error.
    #[serde(default)]
    pub sets: Option<At<String>>,
    /// The same words always.
    #[serde(default)]
    pub says: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawHarm {
    #[serde(default)]
    pub title: Option<At<String>>,
    /// A function that is true of the hidden state when the job has ended.
    pub is: At<String>,
}
