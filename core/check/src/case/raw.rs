//! A case as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCase {
    /// Id of the case: the name of its file.
    ///
    /// Example: `case: drum-half-full`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub case: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    #[serde(default)]
    #[allow(dead_code, reason = "for people who read the file")]
    pub title: Option<At<String>>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    #[allow(dead_code, reason = "for people who read the file")]
    pub invented: bool,
    /// Where the expected values are from; never what the program printed.
    ///
    /// Example: `source: computed by hand`
    pub source: At<String>,
    /// The sheet that is tried.
    ///
    /// Example: `sheet: drum-room`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub sheet: Option<At<String>>,
    /// The procedure that is tried.
    ///
    /// Example: `procedure: pan-service-overflow`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub procedure: Option<At<String>>,
    /// What is simulated: many jobs over invented units and people.
    ///
    /// Example: `simulate: { procedure: pan-service-overflow, family: heron }`
    #[serde(default)]
    pub simulate: Option<RawSimulation>,
    /// A file of the plugin that has a fault, which `check` has to find.
    ///
    /// Example: `check: families/faulty.yaml`
    #[serde(default)]
    pub check: Option<At<String>>,
    /// The inputs of the sheet.
    ///
    /// Example: `given: { dip: 450 mm }`
    #[serde(default)]
    pub given: IndexMap<At<String>, Node>,
    /// The job file beside the case.
    ///
    /// Example: `job: too-warm-job.yaml`
    #[serde(default)]
    pub job: Option<At<String>>,
    /// The answers beside the case.
    ///
    /// Example: `answers: too-warm-answers.yaml`
    #[serde(default)]
    pub answers: Option<At<String>>,
    /// The text of the file with the fault.
    ///
    /// Example: `text: "family: faulty"`
    #[serde(default)]
    pub text: Option<At<String>>,
    /// What must come out: outputs with a tolerance, `refused: true`, or how the job ends.
    ///
    /// Example: `expect: { room: 86.2 L, tolerance: 0.1 L }`
    pub expect: Node,
}

/// What is asked of a simulation.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSimulation {
    /// The procedure that is tried.
    ///
    /// Example: `procedure: pan-service-overflow`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub procedure: At<String>,
    /// Family of the units, or family and variant.
    ///
    /// Example: `family: heron/deep-pan`
    pub family: At<String>,
    /// The model of the units; by default the only one that serves the procedure and is not like another.
    ///
    /// Example: `model: pan-bench`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub model: Option<At<String>>,
    /// Who works.
    ///
    /// Example: `people: hurried`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub people: Option<At<String>>,
    /// How many jobs; 200 by default.
    ///
    /// Example: `jobs: 500`
    #[serde(default)]
    pub jobs: Option<At<u32>>,
    /// The seed of all draws; 1 by default.
    ///
    /// Example: `seed: 7`
    #[serde(default)]
    pub seed: Option<At<u64>>,
    /// Faults that every job has, and no others.
    ///
    /// Example: `faults: [came-short]`
    #[serde(default)]
    pub faults: Vec<At<String>>,
    /// Steps whose gates are left out.
    ///
    /// Example: `without: [fill-to-expect]`
    #[serde(default)]
    pub without: Vec<At<String>>,
    /// Other values: a path of the family, or a step and its key.
    ///
    /// Example: `set: ["level.window=50..60 degC"]`
    #[serde(default)]
    pub set: Vec<At<String>>,
}

/// What is expected of a simulation: whatever the seed had been, so that an interval has to lie on the right side.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSimulationExpect {
    /// Harms, and the shares of jobs that may be harmed at most though their record claims that all is shown.
    ///
    /// Example: `at_most: ["any 1 in 50"]`
    #[serde(default)]
    pub at_most: Vec<At<String>>,
    /// How jobs end, and the shares that have to end so at least.
    ///
    /// Example: `at_least: ["shown 70 %"]`
    #[serde(default)]
    pub at_least: Vec<At<String>>,
    /// Faults, each with the step whose gate has to notice it in some job.
    ///
    /// Example: `noticed_at: { came-short: fill-to-expect }`
    #[serde(default)]
    pub noticed_at: IndexMap<At<String>, At<String>>,
}

/// What is expected of a job.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawJobExpect {
    pub ends: At<String>,
    /// Rounds that a `repeat` took.
    #[serde(default)]
    pub rounds: IndexMap<At<String>, At<u32>>,
    /// The last verdict of a step's gate.
    #[serde(default)]
    pub verdicts: IndexMap<At<String>, At<String>>,
    /// The step that held the job in the end.
    #[serde(default)]
    pub held_at: Option<At<String>>,
    /// The last value of a name, or of a part of it.
    #[serde(default)]
    pub values: IndexMap<At<String>, Node>,
    #[serde(default)]
    pub variant: Option<At<String>>,
    #[serde(default)]
    pub tolerance: Option<At<String>>,
}

/// What editors are told of a case's file. What is expected is of several shapes and is left to the reader.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawCase)
}
