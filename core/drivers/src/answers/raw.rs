//! An answers file as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAnswers {
    /// Id of the file: its name without the ending.
    ///
    /// Example: `answers: heron-van`
    pub answers: At<String>,
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
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [{ covers: all, from: own records, entered_by: RM, checked_by: JO }]`
    #[serde(default)]
    pub sources: Option<Node>,
    /// The job file they are for, relative to this file.
    ///
    /// Example: `for: ../jobs/heron-van.yaml`
    #[serde(default, rename = "for")]
    pub job: Option<At<String>>,
    /// The answers, in the order of the work.
    ///
    /// Example: `list: [{ step: tilt, at: "+2 min", by: rita, enter: done }]`
    pub list: Vec<At<RawAnswer>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAnswer {
    /// The step that it is meant for.
    ///
    /// Example: `step: tilt`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub step: Option<At<String>>,
    /// The item of an `each` step.
    ///
    /// Example: `item: full/7`
    #[serde(default)]
    pub item: Option<At<String>>,
    /// When: a date and a time of day, or how long after the answer before.
    ///
    /// Example: `at: "+2 min"`
    #[schemars(with = "standpipe_yaml::told::When")]
    pub at: At<String>,
    /// When it was entered, if that was later than it was done.
    ///
    /// Example: `entered_at: "2026-11-23T13:34:00"`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::When>")]
    pub entered_at: Option<At<String>>,
    /// Who, by the id in the shop file.
    ///
    /// Example: `by: rita`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub by: At<String>,
    /// What is entered: `done`, an option, or values by name.
    ///
    /// Example: `enter: { tilt_along: 0.2 deg }`
    #[serde(default)]
    pub enter: Option<Node>,
    /// The log that values are taken from instead.
    ///
    /// Example: `log: { file: ../logs/van.csv }`
    #[serde(default)]
    pub log: Option<At<RawFromLog>>,
    /// Which instrument each value was read with.
    ///
    /// Example: `instruments: { tare: scales }`
    #[serde(default)]
    pub instruments: IndexMap<String, At<String>>,
    /// The second person who looked.
    ///
    /// Example: `witness: jo`
    #[serde(default)]
    pub witness: Option<At<String>>,
    /// Photos, relative to this file.
    ///
    /// Example: `evidence: ../photos/tag.png`
    #[serde(default)]
    pub evidence: Option<Node>,
    /// A correction of what was entered: the values and the reason; of an earlier entry than the last, `entry: tilt[2]` as well.
    ///
    /// Example: `correct: { tilt_along: 0.3 deg, because: misread }`
    #[serde(default)]
    pub correct: Option<Node>,
    /// The step is left out, for this reason.
    ///
    /// Example: `skip: no road test in this weather`
    #[serde(default)]
    pub skip: Option<At<String>>,
    /// The job is paused.
    ///
    /// Example: `pause: true`
    #[serde(default)]
    pub pause: Option<At<bool>>,
    /// It is taken up again.
    ///
    /// Example: `resume: true`
    #[serde(default)]
    pub resume: Option<At<bool>>,
    /// A remark.
    ///
    /// Example: `note: The plug was tight.`
    #[serde(default)]
    pub note: Option<At<String>>,
    /// A file for the record.
    ///
    /// Example: `attach: ../photos/bay.png`
    #[serde(default)]
    pub attach: Option<At<String>>,
    /// A reachable procedure that is called.
    ///
    /// Example: `call: fill-plug-seized`
    #[serde(default)]
    pub call: Option<At<String>>,
    /// A call is taken back before anything was done in it.
    ///
    /// Example: `take_back: true`
    #[serde(default)]
    pub take_back: Option<At<bool>>,
    /// A verdict is accepted, with a reason.
    ///
    /// Example: `accept: { because: measured twice }`
    #[serde(default)]
    pub accept: Option<At<RawAccept>>,
    /// A value of the family that was unknown, and where it is from.
    ///
    /// Example: `supply: { cooling.constant: 40 min, source: own log }`
    #[serde(default)]
    pub supply: Option<Node>,
    /// The job is abandoned, for this reason.
    ///
    /// Example: `abandon: the owner declines`
    #[serde(default)]
    pub abandon: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAccept {
    /// The reason.
    ///
    /// Example: `because: measured twice`
    pub because: At<String>,
}

/// A log that values are taken from, and how it is meant.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawFromLog {
    /// The log, relative to this file.
    ///
    /// Example: `file: ../logs/van.csv`
    pub file: At<String>,
    /// The instrument of the shop whose `log:` says how it writes.
    ///
    /// Example: `as: reader`
    #[serde(default, rename = "as")]
    pub instrument: Option<At<String>>,
    /// Which of the log's columns a value is read from, where it is called otherwise.
    ///
    /// Example: `reads: { close_temperature: sump_temperature }`
    #[serde(default)]
    pub reads: IndexMap<At<String>, At<String>>,
    /// The time of day at which a log began that counts from its start.
    ///
    /// Example: `starts: "08:16:00"`
    #[serde(default)]
    pub starts: Option<At<String>>,
    /// Headings of the columns, by what they hold.
    ///
    /// Example: `columns: { sump_temperature: Sump temp 1 }`
    #[serde(default)]
    pub columns: IndexMap<At<String>, At<String>>,
    /// Units of columns that do not name one.
    ///
    /// Example: `units: { sump_temperature: degC }`
    #[serde(default)]
    pub units: IndexMap<At<String>, At<String>>,
    /// Its decimal sign: `point` or `comma`.
    ///
    /// Example: `decimal: comma`
    #[serde(default)]
    pub decimal: Option<At<String>>,
    /// What separates cells.
    ///
    /// Example: `delimiter: semicolon`
    #[serde(default)]
    pub delimiter: Option<At<String>>,
    /// Its text encoding.
    ///
    /// Example: `encoding: latin1`
    #[serde(default)]
    pub encoding: Option<At<String>>,
    /// How it writes times.
    ///
    /// Example: `time: s`
    #[serde(default)]
    pub time: Option<At<String>>,
}

/// What editors are told of a file of answers.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawAnswers)
}
