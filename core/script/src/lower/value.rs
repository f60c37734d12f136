//! What lowering knows of a value: its kind for certain, and in which registers its numbers will lie.

use std::collections::BTreeMap;
use std::rc::Rc;

use rhai::{Dynamic, ImmutableString};

use crate::shape::Measured;
use standpipe_quantity::{Dimension, Name, Quantity, Units};

/// A number: settled while lowering, or in a register while running.
#[derive(Clone, Copy, Debug)]
pub(super) enum Term {
    Const(f64),
    Reg(u16),
}

impl Term {
    /// By its bits: zero has two signs.
    pub fn same(self, other: Self) -> bool {
        self.key() == other.key()
    }

    pub fn key(self) -> (bool, u64) {
        match self {
            Self::Const(number) => (true, number.to_bits()),
            Self::Reg(register) => (false, u64::from(register)),
        }
    }

    pub fn is_const(self) -> bool {
        matches!(self, Self::Const(_))
    }
}

pub(super) const ZERO: Term = Term::Const(0.0);
pub(super) const ONE: Term = Term::Const(1.0);

/// What kind of quantity; the number lies elsewhere.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Measure {
    pub dimension: Dimension,
    pub point: bool,
    pub of: Option<Name>,
}

impl Measure {
    pub const NUMBER: Measure = Measure { dimension: Dimension::NONE, point: false, of: None };

    pub fn of(quantity: &Quantity) -> Self {
        Self { dimension: quantity.dimension, point: quantity.point, of: quantity.of }
    }

    pub fn with(&self, si: f64) -> Quantity {
        Quantity { si, dimension: self.dimension, point: self.point, of: self.of, written: None }
    }

    /// Kept as a plain number by scripts.
    pub fn is_number(&self) -> bool {
        self.dimension.is_none() && !self.point
    }
}

/// An entry of a list or a record; `there` says whether it is, where that shows only while running.
#[derive(Clone, Debug)]
pub(super) struct Slot {
    pub there: Option<Term>,
    pub val: Val,
}

impl Slot {
    pub fn new(val: Val) -> Self {
        Self { there: None, val }
    }
}

/// A function in place, with what it took along from where it stands.
#[derive(Clone, Debug)]
pub(super) struct Closure {
    pub file: usize,
    pub name: ImmutableString,
    pub captured: Vec<(ImmutableString, Val)>,
}

#[derive(Clone, Debug)]
pub(super) enum Val {
    /// Only the interpreter can tell.
    Any,
    Nothing,
    Truth(Term),
    Whole(Term),
    Number(Term),
    /// A number that may be a whole one: what the branches of an `if` gave.
    Loose(Term),
    /// In base units; and as which of the written values it was written, 0 for none.
    Quantity(Rc<Measure>, Term, Term),
    Range(Rc<(Val, Val)>),
    /// Which of the program's texts.
    Text(Term),
    List(Rc<Vec<Slot>>),
    /// Of a length that only a run shows.
    ListOf(Rc<Val>),
    Record(Rc<BTreeMap<ImmutableString, Slot>>),
    Counting(Term, Term, bool),
    Function(Rc<Closure>),
    /// A settled value of another kind: a day, a decimal.
    Held(Dynamic),
}

impl Val {
    pub fn text_list(items: impl IntoIterator<Item = Val>) -> Self {
        Self::List(Rc::new(items.into_iter().map(Slot::new).collect()))
    }

    pub fn record(fields: impl IntoIterator<Item = (ImmutableString, Slot)>) -> Self {
        Self::Record(Rc::new(fields.into_iter().collect()))
    }

    /// Kind, number and writing of whatever can be reckoned with.
    pub fn measured(&self) -> Option<(Measure, Term, Term)> {
        match self {
            Self::Whole(term) | Self::Number(term) | Self::Loose(term) => Some((Measure::NUMBER, *term, ZERO)),
            Self::Quantity(measure, si, written) => Some(((**measure).clone(), *si, *written)),
            _ => None,
        }
    }

    /// What has no dimension is a number again.
    pub fn collapsed(measure: Measure, si: Term, written: Term) -> Self {
        if measure.is_number() { Self::Number(si) } else { Self::Quantity(Rc::new(measure), si, written) }
    }

    /// In words for a message.
    pub fn described(&self, units: &Units) -> String {
        let one = match self {
            Self::Any => return "a value".into(),
            Self::Nothing => return "nothing".into(),
            Self::Truth(_) => return "true or false".into(),
            Self::Text(_) => return "a text".into(),
            Self::Range(_) => return "a range".into(),
            Self::List(_) | Self::ListOf(_) => return "a list".into(),
            Self::Record(_) => return "a record".into(),
            Self::Counting(..) => return "a counting range".into(),
            Self::Function(_) => return "a function".into(),
            Self::Held(_) => return "a date or a decimal".into(),
            other => other.measured(),
        };
        let Some((measure, si, _)) = one else { return "a value".into() };
        match si {
            Term::Const(si) => Measured::exactly(measure.with(si)).described(units),
            Term::Reg(_) => Measured::any(measure.with(1.0)).described(units),
        }
    }

    /// Every number it lies in.
    pub fn terms(&self, each: &mut dyn FnMut(Term)) {
        match self {
            Self::Truth(term) | Self::Whole(term) | Self::Number(term) | Self::Loose(term) | Self::Text(term) => {
                each(*term);
            }
            Self::Quantity(_, si, written) => {
                each(*si);
                each(*written);
            }
            Self::Range(ends) => {
                ends.0.terms(each);
                ends.1.terms(each);
            }
            Self::List(slots) => slots.iter().for_each(|slot| slot.terms(each)),
            Self::Record(fields) => fields.values().for_each(|slot| slot.terms(each)),
            Self::Counting(from, to, _) => {
                each(*from);
                each(*to);
            }
            _ => {}
        }
    }

    /// Whether nothing in it waits for a run.
    pub fn is_settled(&self) -> bool {
        let mut settled = !self.has_unknown();
        self.terms(&mut |term| settled &= term.is_const());
        settled
    }

    fn has_unknown(&self) -> bool {
        match self {
            Self::Any | Self::ListOf(_) | Self::Function(_) | Self::Counting(..) => true,
            Self::List(slots) => slots.iter().any(|slot| slot.there.is_some() || slot.val.has_unknown()),
            Self::Record(fields) => fields.values().any(|slot| slot.there.is_some() || slot.val.has_unknown()),
            _ => false,
        }
    }
}

impl Slot {
    fn terms(&self, each: &mut dyn FnMut(Term)) {
        self.there.iter().for_each(|term| each(*term));
        self.val.terms(each);
    }
}
