//! Blocks that a procedure wants on its card or its record: sentences, facts, a calculation, settings, verdicts.

mod answer;
mod collect;
mod earlier;
mod shown_by;
mod text;

use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;

pub use answer::Answer;
pub(super) use collect::{as_entered, inputs, lacks, leaves_out, on_the_way, said};
pub use collect::{for_card, for_record};
pub use shown_by::Shown;
pub use text::lines;

use super::shown::Named;
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Block {
    pub title: String,
    /// One, or one for each variant where these differ and none is settled.
    pub parts: Vec<Part>,
    /// It stands on the customer's page as well.
    #[serde(skip)]
    pub for_customer: bool,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Part {
    /// For which variant it holds; for all of them if none is named.
    pub variant: Option<String>,
    pub said: Vec<Said>,
    pub facts: Vec<Fact>,
    pub computed: Option<Computed>,
    pub settings: Vec<Setting>,
    pub shown_by: Vec<Shown>,
    /// What it comes to, where the procedure asks that.
    pub answer: Option<Answer>,
}

/// A sentence, and what it lacks.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Said {
    pub text: String,
    pub missing: Vec<String>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Fact {
    pub name: String,
    /// Several for a list; none if nobody has entered it.
    pub shown: Vec<String>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Computed {
    pub sheet: String,
    pub title: String,
    /// Where its formula is from.
    pub from: String,
    pub results: Vec<Named>,
    pub tables: Vec<Rows>,
    pub missing: Vec<String>,
    pub warnings: Vec<String>,
    /// On a card: what finished jobs of the same family say of its inputs.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub earlier: Vec<FromEarlier>,
}

/// An input that earlier jobs may tell.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FromEarlier {
    pub input: String,
    /// It was reckoned with; otherwise somebody has entered another.
    pub used: bool,
    /// None where no job tells it; `text` says why, and what to do.
    pub told: Option<ToldBy>,
    pub text: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ToldBy {
    pub job: String,
    #[schemars(with = "String")]
    pub on: Date,
    pub variant: Option<String>,
    pub value: Value,
    /// Standard.
    pub uncertainty: Value,
    pub readings: usize,
}

/// A result that is a list of records.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct Rows {
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

/// A value that is set on an instrument.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Setting {
    pub name: String,
    pub required: String,
    pub on: Vec<OnScale>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OnScale {
    pub instrument: String,
    /// In the unit of its scale, as finely as it can be set; none if the scale does not reach it.
    pub set: Option<String>,
    pub range: Option<String>,
}
