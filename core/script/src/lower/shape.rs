//! The shape of inputs that a program was made for, and its results as values.

use std::rc::Rc;

use indexmap::IndexMap;

use super::Lowering;
use super::program::{Program, WrittenAs};
use super::value::{Measure, ONE, Slot, Term, Val, ZERO};
use crate::guest::Day;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Name, Quantity, Written};

/// What an input is, and where its numbers go. Texts are settled: a program is made for each.
#[derive(Clone, Debug)]
pub(super) enum Given {
    Truth(u16),
    Number(u16),
    Quantity { measure: Measure, si: u16, written: Option<(Name, u16)> },
    Range(Box<(Given, Given)>),
    Text(String),
    List(Vec<Given>),
    Record(Vec<(String, Given)>),
}

impl Lowering<'_> {
    /// A value as inputs have it. `None` where something is not known or not finite: that is for the interpreter.
    pub fn given(&mut self, value: &Value) -> Option<(Given, Val)> {
        Some(match value {
            Value::Unknown => return None,
            Value::Truth(_) => {
                let to = self.register();
                (Given::Truth(to), Val::Truth(Term::Reg(to)))
            }
            Value::Number(_) => {
                let to = self.register();
                (Given::Number(to), Val::Number(Term::Reg(to)))
            }
            Value::Quantity(quantity) => {
                let (given, measure, si, written) = self.given_quantity(quantity);
                (given, Val::collapsed(measure, si, written))
            }
            Value::Range(low, high) => {
                let ends = [low, high].map(|end| {
                    let (given, measure, si, written) = self.given_quantity(end);
                    (given, Val::Quantity(Rc::new(measure), si, written))
                });
                let [(low, a), (high, b)] = ends;
                (Given::Range(Box::new((low, high))), Val::Range(Rc::new((a, b))))
            }
            Value::Text(text) => (Given::Text(text.clone()), self.text(text)),
            Value::List(items) => {
                let all: Option<Vec<(Given, Val)>> = items.iter().map(|item| self.given(item)).collect();
                let (given, vals): (Vec<Given>, Vec<Val>) = all?.into_iter().unzip();
                (Given::List(given), Val::text_list(vals))
            }
            Value::Record(fields) => {
                let (mut given, mut vals) = (Vec::new(), Vec::new());
                for (name, value) in fields {
                    let (one, val) = self.given(value)?;
                    given.push((name.clone(), one));
                    vals.push((name.as_str().into(), Slot::new(val)));
                }
                (Given::Record(given), Val::record(vals))
            }
        })
    }

    fn given_quantity(&mut self, quantity: &Quantity) -> (Given, Measure, Term, Term) {
        let measure = Measure::of(quantity);
        let si = self.register();
        let (mut kept, mut place) = (None, ZERO);
        if let Some(written) = &quantity.written {
            let value = self.register();
            let inputs = self.program.written.iter().filter(|one| matches!(one, WrittenAs::Input(_))).count();
            place = self.note_written(&written.unit, Term::Reg(value), WrittenAs::Input(inputs));
            kept = Some((written.unit, value));
        }
        (Given::Quantity { measure: measure.clone(), si, written: kept }, measure, Term::Reg(si), place)
    }
}

impl Given {
    /// Puts a value's numbers into the registers; false if it is of another shape.
    pub fn load<'v>(&self, value: &'v Value, room: &mut [f64], written: &mut Vec<&'v Written>) -> bool {
        match (self, value) {
            (Given::Truth(to), Value::Truth(truth)) => {
                room[*to as usize] = f64::from(u8::from(*truth));
                true
            }
            (Given::Number(to), Value::Number(number)) => {
                room[*to as usize] = *number;
                number.is_finite()
            }
            (Given::Quantity { .. }, Value::Quantity(quantity)) => self.load_quantity(quantity, room, written),
            (Given::Range(ends), Value::Range(low, high)) => {
                ends.0.load_quantity(low, room, written) && ends.1.load_quantity(high, room, written)
            }
            (Given::Text(text), Value::Text(other)) => text == other,
            (Given::List(all), Value::List(items)) => {
                all.len() == items.len() && all.iter().zip(items).all(|(one, item)| one.load(item, room, written))
            }
            (Given::Record(all), Value::Record(fields)) => Self::load_fields(all, fields, room, written),
            _ => false,
        }
    }

    pub fn load_fields<'v>(
        all: &[(String, Given)],
        fields: &'v IndexMap<String, Value>,
        room: &mut [f64],
        written: &mut Vec<&'v Written>,
    ) -> bool {
        all.len() == fields.len()
            && all.iter().zip(fields).all(|((name, one), (key, field))| name == key && one.load(field, room, written))
    }

    fn load_quantity<'v>(&self, quantity: &'v Quantity, room: &mut [f64], all: &mut Vec<&'v Written>) -> bool {
        let Given::Quantity { measure, si, written } = self else { return false };
        let alike = measure.dimension == quantity.dimension && measure.point == quantity.point && {
            match (&measure.of, &quantity.of) {
                (Some(one), Some(other)) => one == other,
                (None, None) => true,
                _ => false,
            }
        };
        if !alike || !quantity.si.is_finite() {
            return false;
        }
        room[*si as usize] = quantity.si;
        match (written, &quantity.written) {
            (None, None) => true,
            (Some((unit, to)), Some(other)) => {
                room[*to as usize] = other.value;
                all.push(other);
                *unit == other.unit
            }
            _ => false,
        }
    }
}

impl Program {
    pub fn number(term: Term, room: &[f64]) -> f64 {
        match term {
            Term::Const(number) => number,
            Term::Reg(register) => room[register as usize],
        }
    }

    /// A result as the interpreter would hand it out.
    pub fn value(&self, val: &Val, room: &[f64], written: &[&Written]) -> Option<Value> {
        Some(match val {
            Val::Truth(term) => Value::Truth(Self::number(*term, room) != 0.0),
            Val::Whole(term) | Val::Number(term) | Val::Loose(term) => Value::Number(Self::number(*term, room)),
            Val::Quantity(..) => Value::Quantity(self.quantity(val, room, written)?),
            Val::Range(ends) => {
                Value::Range(self.quantity(&ends.0, room, written)?, self.quantity(&ends.1, room, written)?)
            }
            Val::Text(term) => Value::Text(self.texts.get(Self::number(*term, room) as usize)?.clone()),
            Val::Held(value) => Value::Text(value.read_lock::<Day>()?.0.to_string()),
            Val::List(slots) => {
                let there = slots.iter().filter(|slot| is_there(slot, room));
                Value::List(there.map(|slot| self.value(&slot.val, room, written)).collect::<Option<_>>()?)
            }
            Val::Record(fields) => {
                let there = fields.iter().filter(|(_, slot)| is_there(slot, room));
                let fields: Option<IndexMap<String, Value>> =
                    there.map(|(name, slot)| Some((name.to_string(), self.value(&slot.val, room, written)?))).collect();
                Value::Record(fields?)
            }
            _ => return None,
        })
    }

    fn quantity(&self, val: &Val, room: &[f64], written: &[&Written]) -> Option<Quantity> {
        let Val::Quantity(measure, si, place) = val else { return None };
        let written = match Self::number(*place, room) as usize {
            0 => None,
            place => Some(match self.written.get(place - 1)? {
                WrittenAs::Settled(written) => written.clone(),
                WrittenAs::Input(input) => (*written.get(*input)?).clone(),
            }),
        };
        Some(Quantity { written, ..measure.with(Self::number(*si, room)) })
    }
}

pub(super) fn is_there(slot: &Slot, room: &[f64]) -> bool {
    Program::number(slot.there.unwrap_or(ONE), room) != 0.0
}
