//! A model: what differs from unit to unit, what is true, what goes wrong, and what harm is.

mod fits;
mod raw;
mod spread;

use indexmap::IndexMap;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_library::{Document, Kind, Library};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_yaml::{self as yaml, At, Node, Script};

pub use fits::wants_truth;
use raw::{RawModel, RawOff, RawTruth};
pub use spread::Spread;

/// Functions that every model's script has.
pub const FRESH: &str = "fresh";
pub const ADVANCE: &str = "advance";
/// Behind the id of a step: it is asked again, because its gate was not met.
pub const ONCE_MORE: &str = "again";
/// Behind the id of a procedure: it was called, and is done.
pub const DONE: &str = "done";
/// Keys of `times` that are no kinds of steps.
pub const ITEM: &str = "item";
pub const AGAIN: &str = "again";
pub const NIGHT: &str = "pause";

/// A checked model.
#[derive(Debug)]
pub struct Model {
    pub id: String,
    pub title: String,
    /// It is not from the real world; a model that is none says what it was fitted to.
    pub invented: bool,
    pub sources: Vec<String>,
    pub plugin: String,
    /// The model whose lines hold here too.
    pub like: Option<At<String>>,
    pub form: At<String>,
    pub serves: Vec<At<String>>,
    pub script: At<String>,
    pub shop: Option<At<String>>,
    pub job: IndexMap<At<String>, Node>,
    pub known: IndexMap<String, Script>,
    pub draws: IndexMap<String, Spread>,
    pub faults: IndexMap<String, Fault>,
    pub truth: IndexMap<At<String>, Truth>,
    pub effects: IndexMap<At<String>, At<String>>,
    /// In seconds.
    pub times: IndexMap<At<String>, f64>,
    pub calls: IndexMap<At<String>, At<String>>,
    pub harms: IndexMap<String, Harm>,
    pub conserved: Option<At<String>>,
    pub matters: Option<At<String>>,
    pub place: Place,
}

/// Something that goes wrong in a share of jobs.
#[derive(Debug)]
pub struct Fault {
    pub title: String,
    pub chance: f64,
    pub draws: IndexMap<String, Spread>,
    /// By kind of instrument.
    pub instruments: IndexMap<String, Off>,
    /// Where the chance is from.
    pub source: String,
    pub place: Place,
}

/// What is wrong with an instrument.
#[derive(Clone, Debug, PartialEq)]
pub enum Off {
    By(Quantity),
    Times(f64),
    Stuck,
}

/// What is true of what is asked.
#[derive(Debug)]
pub enum Truth {
    Is(At<String>),
    Sets(At<String>),
    Says(String),
}

/// What must not come of a job.
#[derive(Debug)]
pub struct Harm {
    pub title: String,
    pub is: At<String>,
}

impl Model {
    /// Reads and checks a model of a plugin by itself; everything wrong with it goes into `problems`.
    pub fn read(document: &Document, library: &Library, units: &Units, problems: &mut Problems) -> Option<Self> {
        let raw = whole(document, library, problems)?;
        let before = problems.len();
        let form = needed(&raw, "form", &raw.form, problems)?;
        let script = needed(&raw, "script", &raw.script, problems)?;
        if raw.harms.is_empty() {
            let message = "a model without a harm has nothing to check a record against";
            problems.push(Diagnostic::error(Code::FaultyModel, &raw.model.place, message));
        }
        let mut draws = IndexMap::new();
        for (name, spread) in raw.draws {
            draws.extend(Spread::read(spread, units, problems).map(|spread| (name.value, spread)));
        }
        let mut faults = IndexMap::new();
        for (id, fault) in raw.faults {
            if !(0.0..=1.0).contains(&fault.chance.value) {
                let message = format!("{} is not a probability", fault.chance.value);
                problems
                    .push(Diagnostic::error(Code::FaultyModel, &fault.chance.place, message).expected("from 0 to 1"));
            }
            let mut changed = IndexMap::new();
            for (name, spread) in fault.draws {
                if !draws.contains_key(name.as_str()) {
                    let message = format!("`{}` is not drawn", name.value);
                    let known: Vec<&str> = draws.keys().map(String::as_str).collect();
                    problems
                        .push(Diagnostic::error(Code::FaultyModel, &name.place, message).expected(known.join(", ")));
                }
                changed.extend(Spread::read(spread, units, problems).map(|spread| (name.value, spread)));
            }
            let mut instruments = IndexMap::new();
            for (kind, off) in fault.instruments {
                instruments.extend(read_off(off, units, problems).map(|off| (kind.value, off)));
            }
            let title = fault.title.map_or_else(|| id.value.replace('-', " "), |title| title.value);
            let place = id.place.clone();
            let (chance, source) = (fault.chance.value, fault.source.value);
            faults.insert(id.value, Fault { title, chance, draws: changed, instruments, source, place });
        }
        let mut truth = IndexMap::new();
        for (name, one) in raw.truth {
            truth.extend(read_truth(one, problems).map(|one| (name, one)));
        }
        let mut times = IndexMap::new();
        for (of, text) in raw.times {
            match units.read(&text, Some("time"), None) {
                Ok(Value::Quantity(time)) if time.si > 0.0 => {
                    times.insert(of, time.si);
                }
                Ok(_) => problems.push(Diagnostic::error(Code::FaultyModel, &text.place, "this is not a time above 0")),
                Err(fault) => problems.push(fault.at(&text.place)),
            }
        }
        let harms = raw.harms.into_iter().map(|(id, harm)| {
            let title = harm.title.map_or_else(|| id.value.replace('-', " "), |title| title.value);
            (id.value, Harm { title, is: harm.is })
        });
        let model = Self {
            title: raw.title.map_or_else(|| raw.model.value.clone(), |title| title.value),
            invented: raw.invented,
            sources: raw.sources.into_iter().map(|source| source.value).collect(),
            place: raw.model.place,
            id: raw.model.value,
            plugin: document.plugin.clone(),
            like: raw.like,
            form,
            serves: raw.serves,
            script,
            shop: raw.shop,
            job: raw.job,
            known: raw.known.into_iter().map(|(name, script)| (name.value, script)).collect(),
            draws,
            faults,
            truth,
            effects: raw.effects,
            times,
            calls: raw.calls,
            harms: harms.collect(),
            conserved: raw.conserved,
            matters: raw.matters,
        };
        (problems.len() == before).then_some(model)
    }

    /// As scripts are called: `script::function`.
    pub fn function(&self, name: &str) -> String {
        raw::in_full(&self.script.value, name)
    }

    /// Every function that it names, each where it does so.
    pub fn functions(&self) -> Vec<At<String>> {
        let own = [FRESH, ADVANCE].map(|name| At::new(name.to_owned(), self.script.place.clone()));
        let truth = self.truth.values().filter_map(|truth| match truth {
            Truth::Is(function) | Truth::Sets(function) => Some(function),
            Truth::Says(_) => None,
        });
        let named = truth.chain(self.effects.values()).chain(self.calls.values());
        let named = named.chain(&self.conserved).chain(&self.matters);
        let harms = self.harms.values().map(|harm| &harm.is);
        own.into_iter().chain(named.chain(harms).cloned()).collect()
    }
}

/// A model as it is written, on top of the one that it is like.
fn whole(document: &Document, library: &Library, problems: &mut Problems) -> Option<RawModel> {
    let raw: RawModel = yaml::read(&document.source, problems)?;
    let Some(like) = &raw.like else { return Some(raw) };
    let base = library.find(Kind::Model, like, problems)?;
    let base: RawModel = yaml::read(&base.source, problems)?;
    if let Some(other) = &base.like {
        let message = format!("`{}` is itself like another model, `{}`", like.value, other.value);
        problems.push(
            Diagnostic::error(Code::FaultyModel, &like.place, message)
                .expected("one that stands by itself")
                .also(&other.place, "said here"),
        );
        return None;
    }
    Some(raw.on(base))
}

fn needed(raw: &RawModel, key: &str, value: &Option<At<String>>, problems: &mut Problems) -> Option<At<String>> {
    if value.is_none() {
        problems.push(Diagnostic::error(Code::MissingKey, &raw.model.place, format!("`{key}` is missing")).absent());
    }
    value.clone()
}

fn read_truth(raw: At<RawTruth>, problems: &mut Problems) -> Option<Truth> {
    let At { value: raw, place } = raw;
    match (raw.is, raw.sets, raw.says) {
        (Some(function), None, None) => Some(Truth::Is(function)),
        (None, Some(function), None) => Some(Truth::Sets(function)),
        (None, None, Some(words)) => Some(Truth::Says(words.value)),
        _ => {
            problems.push(
                Diagnostic::error(Code::FaultyModel, &place, "this does not say what is true")
                    .expected("exactly one of is, sets and says"),
            );
            None
        }
    }
}

fn read_off(raw: At<RawOff>, units: &Units, problems: &mut Problems) -> Option<Off> {
    let At { value: raw, place } = raw;
    match (raw.by, raw.times, raw.stuck) {
        (Some(text), None, false) => match units.read(&text, None, None) {
            Ok(Value::Quantity(by)) if !by.point => Some(Off::By(by)),
            Ok(_) => {
                let message = format!("`{}` is not an amount by which something can be off", text.value);
                problems.push(Diagnostic::error(Code::FaultyModel, &text.place, message).expected("such as 4 K_diff"));
                None
            }
            Err(fault) => {
                problems.push(fault.at(&text.place));
                None
            }
        },
        (None, Some(times), false) => Some(Off::Times(times.value)),
        (None, None, true) => Some(Off::Stuck),
        _ => {
            problems.push(
                Diagnostic::error(Code::FaultyModel, &place, "this does not say what is wrong with the instrument")
                    .expected("exactly one of by, times and stuck"),
            );
            None
        }
    }
}

/// What editors are told of a model's file.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawModel)
}
