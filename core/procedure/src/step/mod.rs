//! Step kinds. To add one: a file here, and a line in `step_kinds!` below.

use std::fmt::{self, Debug};

use indexmap::{IndexMap, IndexSet};
use schemars::{JsonSchema, Schema};
use serde::{Deserialize, Serialize};

use super::check::Checker;
use super::expr::Expr;
use super::field::Field;
use super::mark::Mark;
use super::model::{Otherwise, Step};
use super::raw::{OneOrMany, RawGate};
use super::template::Template;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_yaml::told::exactly_one;
use standpipe_yaml::{At, Script};

mod r#await;
mod compute;
mod r#do;
mod each;
mod entered;
mod hold;
mod include;
mod pick;
mod read;
mod repeat;
mod sign;

pub use hold::HELD;

/// What a kind of step is to the machine. None of it runs a script or does input and output: the machine evaluates
/// what [`Kind::next`] asks for, asks what it wants asked, and records the outcome.
pub trait Kind: Debug {
    /// The key that it is written under.
    fn word(&self) -> &'static str;

    /// What comes next at this step, as far as it has got.
    fn next<'a>(&'a self, progress: &Progress) -> Next<'a>;

    /// What an accepted entry means for the item it was made for.
    fn weigh(&self, _progress: &Progress, _values: &IndexMap<String, Value>) -> Weighed {
        Weighed::Done
    }

    /// Names that it gives to expressions.
    fn gives(&self) -> Vec<&At<String>> {
        Vec::new()
    }

    fn fields(&self) -> &[Field] {
        &[]
    }

    fn expressions(&self) -> Vec<&Expr> {
        Vec::new()
    }

    /// Texts with placeholders that a person is shown.
    fn texts(&self) -> Vec<&Template> {
        Vec::new()
    }

    fn children(&self) -> Children<'_> {
        Children::None
    }

    /// The sheet it calls, if any.
    fn sheet(&self) -> Option<&At<String>> {
        None
    }

    /// How often its children may be run, for a kind that repeats.
    fn most_rounds(&self) -> Option<u32> {
        None
    }

    /// Half done is not done: when what ends it comes in between, it starts over at once.
    fn counts_only_when_complete(&self) -> bool {
        false
    }

    /// One line for a card: what will be done here, without job data.
    fn summary(&self) -> String;
}

pub enum Children<'a> {
    None,
    /// Steps of its own (`repeat`).
    Steps(&'a [Step]),
    /// Those of another procedure (`include`).
    Procedure(&'a At<String>),
}

/// How far a step has got: what the machine has settled for it and which items are done.
#[derive(Clone, Debug, Default)]
pub struct Progress {
    /// Results of the expressions that the kind asked for, by what it called them.
    pub settled: IndexMap<String, Value>,
    /// Items that are done; a step without items has the one item "".
    pub done: IndexSet<String>,
}

pub enum Next<'a> {
    Done,
    /// Wants an expression evaluated; the result comes back under `what`.
    Settle {
        what: &'static str,
        expr: &'a Expr,
    },
    /// Wants a sheet run; the outputs come back under `what` and, if `gives`, are given to expressions.
    Call {
        what: &'static str,
        sheet: &'a At<String>,
        with: With<'a>,
        gives: Option<&'a At<String>>,
    },
    /// Wants a value computed and given to expressions.
    Give {
        what: &'static str,
        expr: &'a Expr,
        gives: &'a At<String>,
    },
    Ask(Ask<'a>),
    /// Its children are one block, run once.
    Block,
    /// Its children are a block, run again until `until` holds.
    Rounds {
        until: &'a Expr,
        at_most: u32,
        otherwise: &'a Otherwise,
    },
}

pub enum With<'a> {
    Exprs(&'a IndexMap<String, Expr>),
    Values(IndexMap<String, Value>),
}

/// What to ask a person.
#[derive(Clone, Debug)]
pub struct Ask<'a> {
    pub fields: Vec<&'a Field>,
    /// The item: `full/7`; empty for a step without items.
    pub item: String,
    /// How to call it: `pan bolt 7, full`.
    pub label: String,
    /// Number of this item and of all.
    pub count: Option<(usize, usize)>,
    /// What to do, in words.
    pub text: Option<&'a Template>,
    /// To be held for this long.
    pub hold: Option<Quantity>,
    /// To be read again until inside.
    pub within: Option<(Quantity, Quantity)>,
}

impl<'a> Ask<'a> {
    pub fn fields(fields: impl IntoIterator<Item = &'a Field>) -> Self {
        Self {
            fields: fields.into_iter().collect(),
            item: String::new(),
            label: String::new(),
            count: None,
            text: None,
            hold: None,
            within: None,
        }
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Weighed {
    Done,
    /// Recorded, but the item is asked again, for this reason.
    Again(Miss),
    /// Recorded; the round is over, for this reason.
    NextRound(Miss),
}

/// Why an entry does not count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Miss {
    /// There is no range to compare it with.
    NoRange,
    NotThere,
    GonePast,
    NotHeld,
}

impl fmt::Display for Miss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Miss::NoRange => "no range to compare with",
            Miss::NotThere => "not there yet",
            Miss::GonePast => "gone past",
            Miss::NotHeld => "not held for the whole time",
        })
    }
}

/// Turns a kind as written into a checked one; reports what is wrong and returns `None` when it can't.
trait Written {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>>;
}

macro_rules! step_kinds {
    ($($(#[$told:meta])* $word:literal $field:ident: $raw:ty;)+) => {
        // One struct of optional kinds, so that serde knows the place of everything.
        /// One step of a procedure: exactly one of its keys says what kind it is.
        #[derive(Debug, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        #[schemars(transform = one_kind)]
        pub struct RawStep {
            /// What answers, records and other steps call it by: small letters, digits and hyphens.
            ///
            /// Example: `id: drain-tight`
            #[schemars(with = "standpipe_yaml::told::Id")]
            pub id: At<String>,
            /// One imperative line; the id in words, if left out.
            ///
            /// Example: `title: Tighten the drain plug`
            #[serde(default)]
            pub title: Option<At<String>>,
            /// When the step is done; always, if left out.
            ///
            /// Example: `when: spec.level.engine == "running"`
            #[serde(default)]
            pub when: Option<Script>,
            /// A condition that must be met to go on.
            ///
            /// Example: `gate: { must: bolts_out == spec.fasteners.pan.count, otherwise: wait }`
            #[serde(default)]
            pub gate: Option<RawGate>,
            /// Why it is done, for those who ask.
            ///
            /// Example: `why: A hot drain burns hands.`
            #[serde(default)]
            pub why: Option<At<String>>,
            /// Cautions that apply here, before the hand moves, by their word in `cautions:`.
            ///
            /// Example: `caution: [hot]`
            #[serde(default)]
            #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
            pub caution: Vec<At<String>>,
            /// Lines of live facts under the title.
            ///
            /// Example: `show: ["{spec.plugs.drain.torque}"]`
            #[serde(default)]
            #[schemars(with = "Vec<standpipe_yaml::told::Template>")]
            pub show: Vec<At<String>>,
            /// What has to be attached: `photo`, or `photo-optional`.
            ///
            /// Example: `evidence: photo`
            #[serde(default)]
            #[schemars(with = "Option<standpipe_yaml::told::Evidence>")]
            pub evidence: Option<At<String>>,
            /// What a second person looks at now, and confirms.
            ///
            /// Example: `witness: Every lock engaged`
            #[serde(default)]
            #[schemars(with = "Option<standpipe_yaml::told::Words>")]
            pub witness: Option<At<String>>,
            /// What ends an entry, so that it is asked again: an age, `pause`, `person`, or an event that a step
            /// raises.
            ///
            /// Example: `stale: ["20 min", pause, person]`
            #[serde(default)]
            pub stale: Option<At<OneOrMany>>,
            /// At an `each`: events after which it starts over where it is half done; what is complete stands.
            ///
            /// Example: `starts_over: [pan-off]`
            #[serde(default)]
            pub starts_over: Option<At<OneOrMany>>,
            /// Events that happen when it is done, for `stale:` of other steps.
            ///
            /// Example: `raises: [engine-stopped]`
            #[serde(default)]
            pub raises: Option<At<OneOrMany>>,
            /// Steps whose work is gone when this one is done: they are due again.
            ///
            /// Example: `undoes: [refit-pan]`
            #[serde(default)]
            #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
            pub undoes: Vec<At<String>>,
            /// No shop may take it out or loosen its gate.
            ///
            /// Example: `keep: true`
            #[serde(default)]
            pub keep: bool,
            /// Fields of the family without which this step can't be done.
            ///
            /// Example: `needs: [plugs.drain.torque]`
            #[serde(default)]
            #[schemars(with = "Vec<standpipe_yaml::told::FieldPath>")]
            pub needs: Vec<At<String>>,
            /// The steps of a `repeat`.
            ///
            /// Example: `steps: [{ id: look, title: Look, pick: { level: [short, right] } }]`
            #[serde(default)]
            pub steps: Vec<At<RawStep>>,
            /// What overlays have done to it.
            #[serde(skip)]
            pub marks: Vec<Mark>,
            $($(#[$told])* #[serde(default, rename = $word)] pub $field: Option<$raw>,)+
        }

        /// Every word that names a kind of step.
        pub const WORDS: &[&str] = &[$($word),+];

        impl RawStep {
            /// The words of the kinds that are written.
            pub fn words(&self) -> Vec<&'static str> {
                let mut words = Vec::new();
                $(if self.$field.is_some() { words.push($word); })+
                words
            }

            /// The checked kind; call only when exactly one is written.
            pub(super) fn kind(&mut self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
                $(if let Some(raw) = self.$field.take() { return Written::check(raw, id, checker); })+
                None
            }
        }
    };
}

fn one_kind(schema: &mut Schema) {
    exactly_one(schema, WORDS);
}

impl RawStep {
    /// The procedure whose steps it stands for.
    pub fn included(&self) -> Option<&At<String>> {
        self.include.as_ref().map(|include| &include.0)
    }

    /// Puts other words in the place of what is to be done; false for a kind that has none.
    pub fn say(&mut self, text: At<String>) -> bool {
        let place = if let Some(words) = self.act.as_mut() {
            &mut words.0
        } else if let Some(words) = self.each.as_mut().and_then(|each| each.act.as_mut()) {
            words
        } else if let Some(words) = self.hold.as_mut().and_then(|hold| hold.text.as_mut()) {
            words
        } else {
            return false;
        };
        *place = text;
        true
    }
}

step_kinds! {
    /// A step to be done and confirmed: what to do, in words.
    ///
    /// Example: `do: Over the catch pan.`
    "do" act: r#do::RawDo;
    /// A step at which values are read or answered, each under its name.
    ///
    /// Example: `read: { drained: { is: volume, instrument: jug, unit: L, ask: How much? } }`
    "read" read: read::RawRead;
    /// A step at which one of several options is picked, with an explanation to each if need be.
    ///
    /// Example: `pick: { fill_free: [free, seized] }`
    "pick" pick: pick::RawPick;
    /// A step that goes over items, one after the other, in an order and in passes.
    ///
    /// Example: `each: { of: spec.fasteners.pan, order_by: tightening-order, label: Bolt }`
    "each" each: each::RawEach;
    /// A step that lasts: a time that has to pass.
    ///
    /// Example: `hold: { for: spec.drain.run, text: It runs out }`
    "hold" hold: hold::RawHold;
    /// A step that waits until a reading lies within a range.
    ///
    /// Example: `await: { sample: sump_temperature, within: spec.level.window }`
    "await" sample: r#await::RawAwait;
    /// A step at which nobody does anything: a calculation whose result later steps use.
    ///
    /// Example: `compute: { sheet: next-due, with: { odometer: job.vehicle.odometer }, gives: due }`
    "compute" compute: compute::RawCompute;
    /// A step whose `steps:` are done again until a condition holds.
    ///
    /// Example: `repeat: { until: dripping == "thin drip", at_most: 3, otherwise: stop }`
    "repeat" repeat: repeat::RawRepeat;
    /// A step that is another procedure as a whole.
    ///
    /// Example: `include: drain`
    "include" include: include::RawInclude;
    /// A step at which somebody puts their name to the work.
    ///
    /// Example: `sign: { as: checker, other_than: doer }`
    "sign" sign: sign::RawSign;
}
