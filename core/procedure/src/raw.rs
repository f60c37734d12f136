//! Procedures as written. Every field is what stands in the file; only `check` makes sense of it.

use indexmap::IndexMap;
use schemars::{JsonSchema, Schema};
use serde::Deserialize;

use super::learned::RawLearned;
use super::mark::Mark;
use super::page::raw::{RawBlock, RawPicture};
use super::proposes::RawProposed;
use standpipe_yaml::told::exactly_one;
use standpipe_yaml::{At, Script, Sources};

pub use super::step::RawStep;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawProcedure {
    /// Id of the procedure: the name of its file.
    ///
    /// Example: `procedure: transfer-case-fluid`
    #[schemars(with = "standpipe_yaml::told::Id")]
    pub procedure: At<String>,
    /// The form whose families it is for; left out by a section that needs none.
    ///
    /// Example: `form: transfer-case`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub form: Option<At<String>>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    pub title: At<String>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    pub invented: bool,
    /// Replaces the document with the same id in an earlier plugin.
    ///
    /// Example: `override: true`
    #[serde(default, rename = "override")]
    pub overrides: bool,
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [{ covers: all, from: own records, entered_by: RM, checked_by: JO }]`
    #[serde(default)]
    pub sources: Option<Sources>,
    /// Fields of the family without which it can't be done.
    ///
    /// Example: `needs: [drain.run, plugs.drain.torque]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::FieldPath>")]
    pub needs: Vec<At<String>>,
    /// Procedures that can be called at any step, when something goes wrong.
    ///
    /// Example: `reachable: [fill-plug-seized]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
    pub reachable: Vec<At<String>>,
    /// The procedure that runs before the job is paused.
    ///
    /// Example: `on_pause: hand-over`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub on_pause: Option<At<String>>,
    /// The procedure that runs when a paused job is taken up again.
    ///
    /// Example: `on_resume: take-over`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub on_resume: Option<At<String>>,
    /// Lines of the tag that hangs on the work while the job is paused.
    ///
    /// Example: `tag: [{ text: "{job.vehicle.plate}: drained" }]`
    #[serde(default)]
    pub tag: Vec<RawTag>,
    /// In a procedure that is called: a condition at its end that abandons the job.
    ///
    /// Example: `abandon_when: way_on == "none"`
    #[serde(default)]
    pub abandon_when: Option<Script>,
    /// Roles that may accept a verdict that a correction made bad.
    ///
    /// Example: `may_accept: [foreman]`
    #[serde(default)]
    pub may_accept: Vec<At<String>>,
    /// Warnings by the word that steps name them with: one imperative line each.
    ///
    /// Example: `cautions: { hot: Gloves and goggles on. }`
    #[serde(default)]
    pub cautions: IndexMap<String, At<String>>,
    /// What an audit asks of every record besides what it always asks: conditions on the job as it ended.
    ///
    /// Example: `points: { litres in are the fill: sum(all(filled)) >= spec.capacity.service.low }`
    #[serde(default)]
    pub points: IndexMap<String, Script>,
    /// What a table of many jobs says of each besides what it says of every job.
    ///
    /// Example: `columns: { litres in: sum(all(filled)) }`
    #[serde(default)]
    pub columns: IndexMap<String, Script>,
    /// The work, in order.
    ///
    /// Example: `steps: [{ id: rules-first, title: Read the rules, do: They come before this list. }]`
    pub steps: Vec<At<RawStep>>,
    /// Headings of the card.
    ///
    /// Example: `card: [{ title: Times to expect, facts: [drain.run] }]`
    #[serde(default)]
    pub card: Vec<RawBlock>,
    /// Headings of the record.
    ///
    /// Example: `record: [{ title: Next change, say: ["At {due.due_at}."] }]`
    #[serde(default)]
    pub record: Vec<RawBlock>,
    /// Drawings on card and record.
    ///
    /// Example: `pictures: [{ picture: course, title: Temperature, course: { of: [sump_temperature] } }]`
    #[serde(default)]
    pub pictures: Vec<RawPicture>,
    /// What a finished job tells of its family, for the cards of later jobs.
    ///
    /// Example: `learned: { cooling: { title: Time constant of cooling, readings: { of: sump_temperature, at: [cool-enough] }, sheet: cooling-fit, gives: time_constant, uncertainty: time_constant_u } }`
    #[serde(default)]
    pub learned: IndexMap<At<String>, RawLearned>,
    /// What finished jobs say of the family's values, by field of the form: `standpipe propose` gathers it for whoever keeps
    /// them. Nothing is changed by it.
    ///
    /// Example: `proposes: { capacity.service: { value: "sum(all(filled), 0.L)" } }`
    #[serde(default)]
    pub proposes: IndexMap<At<String>, RawProposed>,
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
    /// What the line says, with `{placeholders}`.
    ///
    /// Example: `text: "{job.vehicle.plate}: drained"`
    pub text: At<String>,
    /// When it is said; always, if left out.
    ///
    /// Example: `when: fill_free == "free"`
    #[serde(default)]
    pub when: Option<Script>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawGate {
    /// What has to be true before the job goes on.
    ///
    /// Example: `must: sump_temperature in spec.level.window`
    pub must: Script,
    /// What happens where it is not met or not shown: `wait` asks the step again, `{ again: [step] }` does so after
    /// earlier steps were done once more, `stop` ends the job here, `next-round` ends the round of a `repeat`,
    /// `{ ask: [role] }` lets someone go on with a reason. Left out: `wait`.
    ///
    /// Example: `otherwise: { ask: [foreman] }`
    #[serde(default)]
    pub otherwise: Option<At<RawOtherwise>>,
    /// What goes wrong if one goes on all the same.
    ///
    /// Example: `at_stake: One left behind lies in the unit.`
    #[serde(default)]
    pub at_stake: Option<At<String>>,
    /// How likely it must be that the condition is met, given how far instruments may be off.
    ///
    /// Example: `confidence: 95 %`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Share>")]
    pub confidence: Option<At<String>>,
    /// What overlays demand beside `must`.
    #[serde(skip)]
    pub tightened: Vec<Script>,
}

/// `otherwise: wait`, `otherwise: { again: [steps] }`, or `otherwise: { ask: [roles] }`.
#[derive(Debug)]
pub enum RawOtherwise {
    Word(String),
    Ask(Vec<At<String>>),
    Again(Vec<At<String>>),
}

/// One value to read: exactly one of `is`, `one_of` and `recognise` says what it is.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(transform = one_kind)]
pub struct RawField {
    /// What is read: `text`, `count`, `date`, `person` or a quantity.
    ///
    /// Example: `is: temperature`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::ValueKind>")]
    pub is: Option<At<String>>,
    /// The choices, with an explanation to each if need be; in place of `is:`.
    ///
    /// Example: `one_of: [wet, dry]`
    #[serde(default)]
    pub one_of: Option<RawOptions>,
    /// It is a sign that the variant is told by: a field of the form's `recognised_by`.
    ///
    /// Example: `recognise: pan_bolts`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub recognise: Option<At<String>>,
    /// The question.
    ///
    /// Example: `ask: Old fluid, how much of it?`
    #[serde(default)]
    pub ask: Option<At<String>>,
    /// The kind of instrument it is read with.
    ///
    /// Example: `instrument: torque-wrench`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub instrument: Option<At<String>>,
    /// It is the lowest mark of an instrument of this kind: what the shop file says of the one at hand is offered.
    ///
    /// Example: `lowest_of: torque-wrench`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub lowest_of: Option<At<String>>,
    /// It is the highest mark of an instrument of this kind.
    ///
    /// Example: `highest_of: torque-wrench`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    pub highest_of: Option<At<String>>,
    /// The unit of a bare number, and the one that it is shown in.
    ///
    /// Example: `unit: L`
    #[serde(default)]
    pub unit: Option<At<String>>,
    /// A value below is refused.
    ///
    /// Example: `at_least: 0 mm`
    #[serde(default)]
    pub at_least: Option<At<String>>,
    /// A value above is refused.
    ///
    /// Example: `at_most: 100 mm`
    #[serde(default)]
    pub at_most: Option<At<String>>,
    /// Somebody other than this: `doer`, or a name that was read.
    ///
    /// Example: `other_than: beneath`
    #[serde(default)]
    pub other_than: Option<At<String>>,
    /// It may be left empty, and is then unknown.
    ///
    /// Example: `optional: true`
    #[serde(default)]
    pub optional: bool,
    /// After how long the value is no longer shown as live.
    ///
    /// Example: `stale: 20 min`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Amount>")]
    pub stale: Option<At<String>>,
}

fn one_kind(schema: &mut Schema) {
    exactly_one(schema, &["is", "one_of", "recognise"]);
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
