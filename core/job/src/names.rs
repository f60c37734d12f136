//! What a name stands for in a job: readings and results, `spec`, `job`, `shop` and `round`.

use std::borrow::Cow;
use std::cell::OnceCell;

use crate::moment::Moment;

use super::address::Address;
use super::state::{Reading, State};
use crate::plan::Plan;
use standpipe_quantity::value::Value;
use standpipe_script::Names;

/// The one fact of a job that the machine gives: whether it was resumed after a pause rather than a break.
pub const WAS_PAUSED: &str = "was_paused";

pub struct JobNames<'a> {
    plan: &'a Plan,
    state: &'a State,
    now: Moment,
    round: u32,
    /// Only what came before this event counts; for judging again after a correction.
    as_of: Option<u64>,
    /// Where that was judged: what was entered late but belongs before it counts as well.
    place: Option<&'a Address>,
    /// Facts that had to be put together, made when they are first asked for.
    spec: OnceCell<Value>,
    job: OnceCell<Value>,
}

impl<'a> JobNames<'a> {
    pub fn new(plan: &'a Plan, state: &'a State, now: Moment, round: u32) -> Self {
        Self::looking(plan, state, now, round, None)
    }

    /// As things stood at a step before an event, with what has been corrected since, and with entries that were due before
    /// that step and came in late.
    pub fn at(plan: &'a Plan, state: &'a State, place: &'a Address, at: Moment, seq: u64) -> Self {
        Self { place: Some(place), ..Self::looking(plan, state, at, place.round(), Some(seq)) }
    }

    /// As things stood when all was entered, with nothing too old or ended by a pause: for looking back.
    pub fn in_the_end(plan: &'a Plan, state: &'a State) -> Self {
        Self::looking(plan, state, Moment::default(), 0, Some(u64::MAX))
    }

    fn looking(plan: &'a Plan, state: &'a State, now: Moment, round: u32, as_of: Option<u64>) -> Self {
        Self { plan, state, now, round, as_of, place: None, spec: OnceCell::new(), job: OnceCell::new() }
    }

    fn readings<'n>(&self, name: &'n str) -> impl DoubleEndedIterator<Item = &'a Reading> + use<'a, 'n> {
        let before = self.as_of.unwrap_or(u64::MAX);
        let again = self.as_of.is_some();
        let (plan, state, place) = (self.plan, self.state, self.place);
        // What has been ended since was not ended when the verdict was passed. Names come last: a gate that waits may have
        // thousands of readings behind it.
        self.state.readings.iter().filter(move |reading| {
            !reading.rejected
                && (again || !reading.ended)
                && reading.name == name
                && (reading.seq < before || place.is_some_and(|place| came_late(plan, state, reading, place)))
        })
    }

    fn is_fresh(&self, reading: &Reading) -> bool {
        reading.fresh_for.is_none_or(|limit| seconds_between(reading.at, self.now) <= limit)
    }

    /// The latest reading of a name if it is too old to be used.
    pub fn stale(&self, name: &str) -> Option<&'a Reading> {
        let latest = self.readings(name).next_back()?;
        (!self.is_fresh(latest)).then_some(latest)
    }

    /// The latest reading of a name, if it is fresh.
    pub fn latest_reading(&self, name: &str) -> Option<&'a Reading> {
        self.readings(name).next_back().filter(|latest| self.is_fresh(latest))
    }

    /// The readings that `all` of a name stands for.
    pub fn every_counting<'n>(&self, name: &'n str) -> impl Iterator<Item = &'a Reading> + use<'a, 'n> {
        self.readings(name).filter(|reading| reading.counts)
    }

    /// Everything that a name, or `all` of it, can stand for.
    pub fn every<'n>(&self, name: &'n str) -> impl Iterator<Item = &'a Reading> + use<'a, 'n> {
        self.readings(name)
    }

    /// Follows a dotted path from a name; `None` where it leads nowhere.
    pub fn path(&self, path: &[String]) -> Option<Value> {
        let (first, rest) = path.split_first()?;
        let value = self.latest(first)?;
        let value = &*value;
        let rest: Vec<&str> = rest.iter().map(String::as_str).collect();
        if let (Value::Range(low, high), [end]) = (value, rest.as_slice()) {
            return match *end {
                "low" => Some(Value::Quantity(low.clone())),
                "high" => Some(Value::Quantity(high.clone())),
                _ => None,
            };
        }
        if let Some(found) = value.at(&rest) {
            return Some(found.clone());
        }
        let (end, parent) = rest.split_last()?;
        match (value.at(parent)?, *end) {
            (Value::Range(low, _), "low") => Some(Value::Quantity(low.clone())),
            (Value::Range(_, high), "high") => Some(Value::Quantity(high.clone())),
            _ => None,
        }
    }
}

impl JobNames<'_> {
    fn spec(&self) -> &Value {
        let (plan, state) = (self.plan, self.state);
        match state.supplied.keys().any(|path| path.starts_with("spec.")) {
            true => self.spec.get_or_init(|| plan.facts(state.variant.as_deref(), &state.supplied)),
            false => &plan.family.known(state.variant.as_deref()).values,
        }
    }

    /// The facts of the job, and whether it was resumed after a pause.
    fn job(&self) -> &Value {
        self.job.get_or_init(|| {
            let mut facts = self.plan.job_facts(&self.state.supplied);
            if let Value::Record(known) = &mut facts {
                known.insert(WAS_PAUSED.to_owned(), Value::Truth(self.state.was_paused));
            }
            facts
        })
    }

    /// A placeholder filled in the shop's units; a person is called by name.
    pub fn show(&self, path: &[String]) -> String {
        match self.path(path) {
            None => "not entered".to_owned(),
            Some(Value::Text(text)) => match self.plan.shop.people.get(&text) {
                Some(person) => person.name.clone(),
                None => text,
            },
            Some(value) => self.plan.show_named(&path.join("."), &value),
        }
    }
}

/// Whether a reading is the first of its entry and belongs before a step, although it was entered after that step was done:
/// what a correction has made due is entered so.
fn came_late(plan: &Plan, state: &State, reading: &Reading, place: &Address) -> bool {
    let own = |other: &&Reading| !other.rejected && other.name == reading.name && other.address == reading.address;
    plan.precedes(&reading.address, place)
        && state.readings.iter().find(own).is_some_and(|first| first.seq == reading.seq)
}

/// Seconds from one time to a later one.
pub fn seconds_between(from: Moment, to: Moment) -> f64 {
    to.duration_since(from).as_secs_f64()
}

impl Names for JobNames<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        match name {
            "spec" => Some(Cow::Borrowed(self.spec())),
            "job" => Some(Cow::Borrowed(self.job())),
            "shop" => Some(Cow::Borrowed(&self.plan.shop_facts)),
            "round" => Some(Cow::Owned(Value::Number(f64::from(self.round)))),
            _ => self.latest_reading(name).map(|latest| Cow::Borrowed(&latest.value)),
        }
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.every_counting(name).map(|reading| reading.value.clone()).collect()
    }
}
