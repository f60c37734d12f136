//! Readings of a reader that is followed: where they reach or leave the range that a step awaits.

use crate::moment::Moment;
use indexmap::IndexMap;

use super::{Decision, Machine};
use crate::address::Address;
use crate::event::{self, Event};
use crate::names::seconds_between;
use crate::plan::Plan;
use crate::state::State;
use crate::walk::{NextWork, walk};
use standpipe_procedure::field::compare;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_script::Fault;
use standpipe_sheet::{Outcome, Shape};

/// Seconds after which what was reached can be left again, and the other way round. No source: own choice.
const SETTLES: f64 = 5.0;

/// The range that is watched for a name, and the step that awaits it.
pub struct Watched {
    pub address: Address,
    pub low: Quantity,
    pub high: Quantity,
    /// It is awaited now, not looked after since.
    pub awaited: bool,
}

impl Decision<'_> {
    pub(super) fn sample(&mut self, name: &str, value: &Value) {
        let Some((watched, turn)) = turned(self.plan, &self.state, name, value, self.now()) else { return };
        // It is held against this range, so it is of the same kind, whatever the reader's word for that.
        let value = match value {
            Value::Quantity(read) if watched.low.of.is_some() => {
                Value::Quantity(Quantity { of: watched.low.of, ..read.clone() })
            }
            other => other.clone(),
        };
        self.emit(Event::Stream {
            address: Some(watched.address),
            name: name.to_owned(),
            turn,
            value: Some(value),
            note: None,
        });
    }
}

/// Whether a reading reaches or leaves the range that is watched for it.
fn turned(
    plan: &Plan,
    state: &State,
    name: &str,
    value: &Value,
    now: Moment,
) -> Option<(Watched, event::StreamStatus)> {
    let watched = watched(plan, state, name)?;
    let inside = watched.holds(value)?;
    let before = state.streams.get(name);
    // Of a range that another step awaited nothing is known yet.
    let known =
        before.filter(|before| before.awaited_by.as_ref() == Some(&watched.address)).and_then(|before| before.inside);
    // A reading that trembles at the end of a range does not reach and leave it ten times.
    if known.is_some() && before.is_some_and(|before| seconds_between(before.at, now) < SETTLES) {
        return None;
    }
    match (known, inside) {
        (None | Some(false), true) => Some((watched, event::StreamStatus::Reached)),
        (Some(true), false) => Some((watched, event::StreamStatus::Left)),
        _ => None,
    }
}

impl Watched {
    /// Whether a value lies in the range; its ends belong to it. `None` for another quantity.
    pub fn holds(&self, value: &Value) -> Option<bool> {
        let (low, high) = (Value::Quantity(self.low.clone()), Value::Quantity(self.high.clone()));
        Some(compare(value, &low)?.is_ge() && compare(value, &high)?.is_le())
    }
}

/// The range awaited now; else the one that this name was awaited in last.
fn watched(plan: &Plan, state: &State, name: &str) -> Option<Watched> {
    if let NextWork::Ask { address, ask, .. } = walk(plan, state)
        && let Some((low, high)) = ask.within
        && ask.fields.iter().any(|field| field.name.as_str() == name)
    {
        return Some(Watched { address, low, high, awaited: true });
    }
    let address = state.streams.get(name)?.awaited_by.clone()?;
    match state.step(&address)?.progress.settled.get("within")? {
        Value::Range(low, high) => Some(Watched { address, low: low.clone(), high: high.clone(), awaited: false }),
        _ => None,
    }
}

impl Machine {
    /// The range that is watched for a name.
    pub fn watched(&self, state: &State, name: &str) -> Option<Watched> {
        watched(&self.plan, state, name)
    }

    /// Whether something would be recorded of a reading; far cheaper than to decide it.
    pub fn notices(&self, state: &State, name: &str, value: &Value, now: Moment) -> bool {
        turned(&self.plan, state, name, value, now).is_some()
    }

    /// What the sheet that a step names tells of the next minutes, from readings of time and value. It is shown and never
    /// recorded: no verdict hangs on it, so it may run outside of `decide`.
    pub fn forecast(&self, watched: &Watched, readings: &[(f64, Quantity)]) -> Option<Result<Outcome, Fault>> {
        let sheet = self.plan.sheets.get(self.plan.step(&watched.address.step)?.kind.sheet()?.as_str())?;
        let Shape::Record(parts) = &sheet.inputs.get("readings")?.shape else { return None };
        let (time, read) = (parts.get_index(0)?.0.clone(), parts.get_index(1)?.0.clone());
        let one = |(at, value): &(f64, Quantity)| -> Option<Value> {
            let time_value = Value::Quantity(self.plan.units.quantity(*at, "s").ok()?);
            Some(Value::Record(IndexMap::from([
                (time.clone(), time_value),
                (read.clone(), Value::Quantity(value.clone())),
            ])))
        };
        let list = readings.iter().map(one).collect::<Option<Vec<Value>>>()?;
        let inputs = IndexMap::from([
            ("readings".to_owned(), Value::List(list)),
            ("low".to_owned(), Value::Quantity(watched.low.clone())),
            ("high".to_owned(), Value::Quantity(watched.high.clone())),
        ]);
        Some(sheet.run(&self.plan.scripts, inputs))
    }
}
