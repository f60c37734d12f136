//! The job card: what a job needs and will do, before it starts.

mod collect;
mod steps;
mod text;

use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;

pub use collect::view;
pub use text::text;

use super::block::Block;
use super::picture::Picture;
use super::shown::Named;
use standpipe_diagnostic::source::Place;
use standpipe_job::plan::{Overlaid, Simulated};
use standpipe_procedure::Mark;
use standpipe_quantity::value::Value;

pub const SCHEMA: &str = "standpipe.card/1";

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CardView {
    pub schema: &'static str,
    pub notice: &'static str,
    pub invented: bool,
    /// What answers it, where that is a model.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulated: Option<Simulated>,
    /// None for the card of a family, before there is a job.
    pub job: Option<String>,
    pub subject: String,
    /// What the job file says.
    pub told: Vec<Named>,
    pub family: Titled,
    pub procedure: Titled,
    pub variant: Variant,
    /// What nobody has entered; what a step needs comes first.
    pub unknown: Vec<Unknown>,
    pub cautions: Vec<Caution>,
    pub instruments: Vec<Instrument>,
    pub people: Vec<Person>,
    /// The facts of the family, by their first word, in the order of the form.
    pub facts: Vec<Group>,
    pub steps: Vec<Step>,
    /// Numbers of the steps that have a gate, the gravest first.
    pub gates: Vec<usize>,
    /// What the procedure wants to see on the card.
    pub blocks: Vec<Block>,
    pub pictures: Vec<Picture>,
    pub reachable: Vec<Titled>,
    /// What overlays of the shop have changed.
    pub changed: Vec<Overlaid>,
    pub plan: String,
}

impl CardView {
    /// Of what it is the card.
    pub fn of(&self) -> String {
        match (&self.job, &self.variant.settled) {
            (Some(job), _) => format!("job {job}"),
            (None, Some(variant)) => format!("family {}/{variant}", self.family.id),
            (None, None) => format!("family {}", self.family.id),
        }
    }
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Titled {
    pub id: String,
    pub title: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Variant {
    /// Named by the job file; else it is found out on the job.
    pub settled: Option<String>,
    pub signs: Vec<Sign>,
}

/// What to look at, and what it means.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Sign {
    pub ask: String,
    pub seen: Vec<Seen>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Seen {
    pub looks: String,
    pub variant: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Unknown {
    pub path: String,
    pub ask: Option<String>,
    /// Numbers of the steps that speak of it.
    pub steps: Vec<usize>,
    /// Known as soon as the variant is: what it is for each.
    pub by_variant: Vec<ForVariant>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ForVariant {
    pub variant: String,
    pub shown: String,
    pub value: Value,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Caution {
    pub text: String,
    pub steps: Vec<usize>,
}

/// A kind of instrument that steps ask for, and those that the shop has.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Instrument {
    pub kind: String,
    pub steps: Vec<usize>,
    pub shop: Vec<Owned>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Owned {
    pub id: String,
    pub range: Option<String>,
    pub accuracy: Option<String>,
    #[schemars(with = "Option<String>")]
    pub due: Option<Date>,
}

/// Someone beside who does the work.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Person {
    pub wanted: String,
    pub steps: Vec<usize>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Group {
    pub name: String,
    pub facts: Vec<Fact>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Fact {
    pub path: String,
    /// In both systems of units.
    pub shown: String,
    pub value: Value,
    pub from: Option<String>,
    pub place: Option<Place>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Step {
    pub number: usize,
    pub id: String,
    /// Title of the procedure that it is written in.
    pub section: String,
    pub title: String,
    pub kind: &'static str,
    pub summary: String,
    /// Done only if this holds.
    pub when: Option<String>,
    pub most_rounds: Option<u32>,
    pub gate: Option<Gate>,
    pub witness: Option<String>,
    pub evidence: Option<&'static str>,
    /// No overlay may loosen it.
    pub keep: bool,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub changed: Vec<Mark>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Gate {
    pub must: String,
    pub otherwise: String,
    pub at_stake: Option<String>,
}
