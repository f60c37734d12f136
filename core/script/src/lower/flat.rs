//! Values that programs take and give as they are: the numbers alone, beside a note of what they are numbers of.
//!
//! A simulation hands a state of some thirty fields from one function to the next, thousands of times a job. As values they
//! would be named, hashed and laid out anew in between.

use std::cell::{OnceCell, RefCell};
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

use indexmap::IndexMap;

use super::cache::{Lowered, SHAPES};
use super::program::Program;
use super::run::End;
use super::value::{Measure, Term, Val};
use crate::names::Fault;
use crate::scripts::Scripts;
use standpipe_quantity::value::Value;

/// A value taken apart by the [`Scripts`] whose functions it is for. How its quantities were written is not kept.
#[derive(Clone, Debug)]
pub struct Flat(Form);

#[derive(Clone, Debug)]
enum Form {
    Numbers(Rc<Outline>, Vec<f64>),
    /// Of something in it no program can be made: it is unknown, or no number.
    Whole(Value),
}

/// What a value is, but for its numbers.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Outline {
    Truth,
    Number,
    Quantity(Measure),
    Range(Measure, Measure),
    Text(String),
    List(Vec<Outline>),
    Record(Vec<(String, Outline)>),
}

/// Outlines that have been met, and programs by what they are given.
#[derive(Default)]
pub(super) struct Met {
    outlines: RefCell<HashSet<Rc<Outline>>>,
    programs: RefCell<HashMap<String, Vec<Rc<Fitted>>>>,
}

/// A program for values of these names and outlines.
struct Fitted {
    plugin: String,
    given: Vec<(String, Rc<Outline>)>,
    lowered: Rc<Lowered>,
    /// One for each result; nothing where only a run shows what it is.
    results: Vec<OnceCell<Option<Settled>>>,
}

/// What a result is, and where its numbers lie.
type Settled = (Rc<Outline>, Vec<Term>);

impl Flat {
    pub fn is_record(&self) -> bool {
        match &self.0 {
            Form::Numbers(outline, _) => matches!(**outline, Outline::Record(_)),
            Form::Whole(value) => matches!(value, Value::Record(_)),
        }
    }

    /// The value, put together.
    pub fn value(&self) -> Value {
        match &self.0 {
            Form::Numbers(outline, numbers) => outline.value(&mut numbers.iter().copied()),
            Form::Whole(value) => value.clone(),
        }
    }
}

impl Scripts {
    /// Takes a value apart.
    pub fn flat(&self, value: &Value) -> Flat {
        let mut numbers = Vec::new();
        match Outline::of(value, &mut numbers) {
            Some(outline) => Flat(Form::Numbers(self.lowered.met.outline(outline), numbers)),
            None => Flat(Form::Whole(value.clone())),
        }
    }

    /// Calls a function as a plugin sees it, with one record of these.
    ///
    /// Errors: as [`Scripts::call_for`].
    pub fn call_flat(&self, plugin: &str, function: &str, inputs: &[(&str, &Flat)]) -> Result<Flat, Fault> {
        match self.run_flat(plugin, function, inputs) {
            Some(flat) => Ok(flat),
            None => Ok(self.flat(&self.interpret(plugin, function, values(inputs))?)),
        }
    }

    /// Whether a program works out this call to its end.
    pub fn calls_program(&self, plugin: &str, function: &str, inputs: &[(&str, &Flat)]) -> bool {
        self.run_flat(plugin, function, inputs).is_some()
    }

    /// By a program; `None` where there is none, or it hands over.
    fn run_flat(&self, plugin: &str, function: &str, inputs: &[(&str, &Flat)]) -> Option<Flat> {
        let program = self.program_for_flat(plugin, function, inputs)?;
        let mut room = program.lowered.room.borrow_mut();
        let mut at = 0;
        for (_, flat) in inputs {
            let Form::Numbers(_, numbers) = &flat.0 else { return None };
            room.get_mut(at..at + numbers.len())?.copy_from_slice(numbers);
            at += numbers.len();
        }
        match program.lowered.program.run(&mut room) {
            End::Finished(result) => program.result(self, usize::from(result), &room),
            End::Refused(_) | End::Left(_) => None,
        }
    }

    fn program_for_flat(&self, plugin: &str, function: &str, inputs: &[(&str, &Flat)]) -> Option<Rc<Fitted>> {
        if !self.lowered.makes_programs() {
            return None;
        }
        let fits = |program: &&Rc<Fitted>| {
            program.plugin == plugin
                && program.given.len() == inputs.len()
                && program.given.iter().zip(inputs).all(|((known, of), (name, flat))| {
                    matches!(&flat.0, Form::Numbers(outline, _) if Rc::ptr_eq(outline, of) && name == known)
                })
        };
        let mut of_function = 0;
        if let Some(programs) = self.lowered.met.programs.borrow().get(function) {
            if let Some(program) = programs.iter().find(fits) {
                return program.lowered.is_lowered().then(|| program.clone());
            }
            of_function = programs.len();
        }
        if of_function >= SHAPES {
            return None;
        }
        let mut given = Vec::new();
        for (name, flat) in inputs {
            let Form::Numbers(outline, _) = &flat.0 else { return None };
            given.push(((*name).to_owned(), outline.clone()));
        }
        let lowered = Rc::new(self.lower_call(plugin, function, &values(inputs))?);
        let results = lowered.program.results.iter().map(|_| OnceCell::new()).collect();
        let program = Rc::new(Fitted { plugin: plugin.to_owned(), given, lowered, results });
        let mut all = self.lowered.met.programs.borrow_mut();
        all.entry(function.to_owned()).or_default().push(program.clone());
        program.lowered.is_lowered().then_some(program)
    }
}

fn values(inputs: &[(&str, &Flat)]) -> IndexMap<String, Value> {
    inputs.iter().map(|(name, flat)| ((*name).to_owned(), flat.value())).collect()
}

impl Met {
    /// The one of its kind, so that two are alike if they are the same.
    fn outline(&self, outline: Outline) -> Rc<Outline> {
        let mut all = self.outlines.borrow_mut();
        if let Some(known) = all.get(&outline) {
            return known.clone();
        }
        let outline = Rc::new(outline);
        all.insert(outline.clone());
        outline
    }
}

impl Fitted {
    fn result(&self, scripts: &Scripts, result: usize, room: &[f64]) -> Option<Flat> {
        let program = &self.lowered.program;
        let val = program.results.get(result)?;
        let settled = self.results.get(result)?.get_or_init(|| {
            let mut terms = Vec::new();
            let outline = Outline::of_result(val, program, &mut terms)?;
            Some((scripts.lowered.met.outline(outline), terms))
        });
        Some(match settled {
            Some((outline, terms)) => {
                let numbers = terms.iter().map(|term| Program::number(*term, room)).collect();
                Flat(Form::Numbers(outline.clone(), numbers))
            }
            None => scripts.flat(&program.value(val, room, &[])?),
        })
    }
}

impl Outline {
    /// Of a value, with its numbers in the order in which lowering gives them registers.
    fn of(value: &Value, numbers: &mut Vec<f64>) -> Option<Self> {
        let mut put = |number: f64| {
            numbers.push(number);
            number.is_finite()
        };
        Some(match value {
            Value::Unknown => return None,
            Value::Truth(truth) => {
                put(f64::from(u8::from(*truth)));
                Self::Truth
            }
            Value::Number(number) => put(*number).then_some(Self::Number)?,
            Value::Quantity(quantity) => put(quantity.si).then(|| Self::Quantity(Measure::of(quantity)))?,
            Value::Range(low, high) => {
                (put(low.si) && put(high.si)).then(|| Self::Range(Measure::of(low), Measure::of(high)))?
            }
            Value::Text(text) => Self::Text(text.clone()),
            Value::List(items) => Self::List(items.iter().map(|item| Self::of(item, numbers)).collect::<Option<_>>()?),
            Value::Record(fields) => {
                let fields = fields.iter().map(|(name, field)| Some((name.clone(), Self::of(field, numbers)?)));
                Self::Record(fields.collect::<Option<_>>()?)
            }
        })
    }

    /// Of a result, with where its numbers lie; `None` where that differs from run to run.
    fn of_result(val: &Val, program: &Program, terms: &mut Vec<Term>) -> Option<Self> {
        let mut measure = |val: &Val| match val {
            // How it was written is not flat.
            Val::Quantity(measure, si, _) => {
                terms.push(*si);
                Some((**measure).clone())
            }
            _ => None,
        };
        Some(match val {
            Val::Quantity(..) => Self::Quantity(measure(val)?),
            Val::Range(ends) => Self::Range(measure(&ends.0)?, measure(&ends.1)?),
            Val::Truth(term) => {
                terms.push(*term);
                Self::Truth
            }
            Val::Whole(term) | Val::Number(term) | Val::Loose(term) => {
                terms.push(*term);
                Self::Number
            }
            Val::Text(Term::Const(number)) => Self::Text(program.texts.get(*number as usize)?.clone()),
            Val::List(slots) => {
                let items = slots.iter().map(|slot| match slot.there {
                    None => Self::of_result(&slot.val, program, terms),
                    Some(_) => None,
                });
                Self::List(items.collect::<Option<_>>()?)
            }
            Val::Record(fields) => {
                let fields = fields.iter().map(|(name, slot)| match slot.there {
                    None => Some((name.to_string(), Self::of_result(&slot.val, program, terms)?)),
                    Some(_) => None,
                });
                Self::Record(fields.collect::<Option<_>>()?)
            }
            _ => return None,
        })
    }

    fn value(&self, numbers: &mut impl Iterator<Item = f64>) -> Value {
        let mut next = || numbers.next().unwrap_or(f64::NAN);
        match self {
            Self::Truth => Value::Truth(next() != 0.0),
            Self::Number => Value::Number(next()),
            Self::Quantity(measure) => Value::Quantity(measure.with(next())),
            Self::Range(low, high) => Value::Range(low.with(next()), high.with(next())),
            Self::Text(text) => Value::Text(text.clone()),
            Self::List(items) => Value::List(items.iter().map(|item| item.value(numbers)).collect()),
            Self::Record(fields) => {
                Value::Record(fields.iter().map(|(name, field)| (name.clone(), field.value(numbers))).collect())
            }
        }
    }
}
