//! What people do wrong, and how often.

use std::sync::Arc;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_yaml::{self as yaml, At};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawPeople {
    /// Id of the people: the name of their file.
    ///
    /// Example: `people: careful`
    people: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    #[serde(default)]
    title: Option<At<String>>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    invented: bool,
    /// How long they take, as a share of what the model says.
    ///
    /// Example: `pace: 1.2`
    #[serde(default)]
    pace: Option<At<f64>>,
    /// How often someone allowed to accept a verdict does so, as a share.
    ///
    /// Example: `accepts: 0.3`
    #[serde(default)]
    accepts: Option<At<f64>>,
    /// By what is done wrong.
    ///
    /// Example: `slips: { digit: { chance: 0.003, source: own choice } }`
    #[serde(default)]
    slips: IndexMap<At<String>, RawSlip>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawSlip {
    /// How often when it could happen: the median over people and days.
    ///
    /// Example: `chance: 0.003`
    chance: At<f64>,
    /// This many times more often for one in twenty; 1 for all alike.
    ///
    /// Example: `factor: 5`
    #[serde(default)]
    factor: Option<At<f64>>,
    /// Where the chance is from.
    ///
    /// Example: `source: own choice`
    source: At<String>,
}

/// What somebody can do wrong. What it means lies in how asks are answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Slip {
    /// A step is confirmed and not done.
    NotDone,
    /// One of many items is left out.
    ItemLeftOut,
    /// A digit is misread.
    Digit,
    /// The number is right and the unit wrong.
    Unit,
    /// Read with another instrument of the kind.
    Instrument,
    /// A time to hold is cut short.
    CutShort,
    /// An option other than the one seen.
    Option,
    /// What should be there is entered, and nobody looked.
    NotLooked,
    /// After a refusal what would pass is entered.
    MadeToFit,
    /// The witness sees nothing where there is something.
    Unseen,
    /// Entered some time after it was done.
    Late,
    /// The work is broken off and resumed.
    BrokenOff,
}

impl Slip {
    pub const ALL: [(Slip, &'static str); 12] = [
        (Slip::NotDone, "not-done"),
        (Slip::ItemLeftOut, "item-left-out"),
        (Slip::Digit, "digit"),
        (Slip::Unit, "unit"),
        (Slip::Instrument, "instrument"),
        (Slip::CutShort, "cut-short"),
        (Slip::Option, "option"),
        (Slip::NotLooked, "not-looked"),
        (Slip::MadeToFit, "made-to-fit"),
        (Slip::Unseen, "unseen"),
        (Slip::Late, "late"),
        (Slip::BrokenOff, "broken-off"),
    ];

    pub fn name(self) -> &'static str {
        Self::ALL.iter().find(|(slip, _)| *slip == self).map_or("", |(_, name)| name)
    }
}

/// Checked people.
#[derive(Clone, Debug)]
pub struct People {
    pub id: String,
    pub title: String,
    pub pace: f64,
    pub accepts: f64,
    pub slips: IndexMap<Slip, Rate>,
    pub invented: bool,
    pub place: Place,
}

/// How often a slip happens where it can.
#[derive(Clone, Debug)]
pub struct Rate {
    /// Median over people and days.
    pub chance: f64,
    /// Standard deviation of its logarithm.
    pub spread: f64,
    /// Where the chance is from.
    pub source: String,
}

/// Standard deviations from the median to one in twenty: that is where an error factor lies (NUREG/CR-1278, from memory).
const ONE_IN_TWENTY: f64 = 1.645;

impl People {
    pub fn read(source: &Arc<Source>, problems: &mut Problems) -> Option<Self> {
        let raw: RawPeople = yaml::read(source, problems)?;
        let before = problems.len();
        let mut share = |value: &At<f64>| {
            if !(0.0..=1.0).contains(&value.value) {
                let message = format!("{} is not a probability", value.value);
                problems.push(Diagnostic::error(Code::FaultyModel, &value.place, message).expected("from 0 to 1"));
            }
            value.value
        };
        let accepts = raw.accepts.as_ref().map_or(0.0, &mut share);
        let chances: Vec<f64> = raw.slips.values().map(|slip| share(&slip.chance)).collect();
        let mut slips = IndexMap::new();
        for ((name, slip), chance) in raw.slips.iter().zip(chances) {
            let factor = slip.factor.as_ref().map_or(1.0, |factor| factor.value);
            if !(factor.is_finite() && factor >= 1.0) {
                let place = slip.factor.as_ref().map_or(&name.place, |factor| &factor.place);
                let message = format!("{factor} is not a factor between people");
                problems.push(Diagnostic::error(Code::FaultyModel, place, message).expected("at least 1"));
                continue;
            }
            match Slip::ALL.iter().find(|(_, known)| *known == name.as_str()) {
                Some((known, _)) => {
                    let (spread, source) = (libm::log(factor) / ONE_IN_TWENTY, slip.source.value.clone());
                    slips.insert(*known, Rate { chance, spread, source });
                }
                None => {
                    let names: Vec<&str> = Slip::ALL.iter().map(|(_, name)| *name).collect();
                    let problem = Diagnostic::error(
                        Code::FaultyModel,
                        &name.place,
                        format!("there is no way to do `{}` wrong", name.value),
                    )
                    .expected(names.join(", "));
                    problems.push(problem.near(name, names));
                }
            }
        }
        let pace = raw.pace.as_ref().map_or(1.0, |pace| pace.value);
        if let Some(at) = raw.pace.as_ref().filter(|pace| !(pace.value.is_finite() && pace.value > 0.0)) {
            problems.push(Diagnostic::error(Code::FaultyModel, &at.place, "this is not a pace above 0"));
        }
        (problems.len() == before).then(|| Self {
            title: raw.title.map_or_else(|| raw.people.value.clone(), |title| title.value),
            place: raw.people.place,
            invented: raw.invented,
            id: raw.people.value,
            pace,
            accepts,
            slips,
        })
    }

    /// How often somebody does something wrong who is so many standard deviations less careful than the median.
    pub fn chance(&self, slip: Slip, care: f64) -> f64 {
        self.slips.get(&slip).map_or(0.0, |rate| (rate.chance * libm::exp(rate.spread * care)).min(1.0))
    }

    /// The same people with all rates so many times as high.
    pub fn times(&self, factor: f64) -> Self {
        let mut people = self.clone();
        people.slips.values_mut().for_each(|rate| rate.chance = (rate.chance * factor).min(1.0));
        people
    }
}

/// What editors are told of a file of people.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawPeople)
}
