//! Values that a loop changes: each of their numbers has a register of its own, which every turn writes anew.

use std::rc::Rc;

use super::Lowering;
use super::code::Node;
use super::program::{At, Kind};
use super::value::{Measure, Slot, Term, Val};
use super::ways::{State, Var};

/// How far lowering had come, to go back to.
pub(super) struct Mark {
    vars: Vec<Var>,
    state: State,
    code: usize,
    emitted: usize,
    sites: Vec<usize>,
    reasons: usize,
    results: usize,
    log: usize,
}

impl Lowering<'_> {
    pub fn snapshot(&self) -> Mark {
        Mark {
            vars: self.vars.clone(),
            state: self.state,
            code: self.code.len(),
            emitted: self.emitted,
            sites: self.moves.iter().map(Vec::len).collect(),
            reasons: self.program.reasons.len(),
            results: self.program.results.len(),
            log: self.log.len(),
        }
    }

    pub fn restore(&mut self, mark: Mark) {
        self.vars = mark.vars;
        self.state = mark.state;
        self.code.truncate(mark.code);
        self.emitted = mark.emitted;
        for (index, count) in mark.sites.iter().enumerate() {
            self.joins[index].sites.truncate(*count);
            self.moves[index].truncate(*count);
        }
        self.program.reasons.truncate(mark.reasons);
        self.program.results.truncate(mark.results);
        self.forget(mark.log);
    }

    /// The same kind of value in registers of its own.
    pub fn housed(&mut self, val: &Val) -> Val {
        val.with_terms(&mut |_| {
            self.spend(1);
            Term::Reg(self.register())
        })
    }

    pub fn move_into(&mut self, home: &Val, from: &Val, at: At) {
        for (to, from) in pairs(home, from) {
            self.emit(Node::Do { kind: Kind::Move, to, a: from, b: from, at });
        }
    }

    /// The end of a turn: all are read before any is written.
    pub fn move_back(&mut self, homes: &[Val], ends: &[Val], at: At) {
        let all: Vec<(u16, Term)> = homes
            .iter()
            .zip(ends)
            .flat_map(|(home, end)| pairs(home, end))
            .filter(|(to, from)| !Term::Reg(*to).same(*from))
            .collect();
        let crossing = all.iter().any(|(_, from)| all.iter().any(|(to, _)| Term::Reg(*to).same(*from)));
        let sources: Vec<Term> = all
            .iter()
            .map(|(_, from)| {
                if !crossing {
                    return *from;
                }
                let to = self.register();
                self.emit(Node::Do { kind: Kind::Move, to, a: *from, b: *from, at });
                Term::Reg(to)
            })
            .collect();
        for ((to, _), from) in all.iter().zip(sources) {
            self.emit(Node::Do { kind: Kind::Move, to: *to, a: from, b: from, at });
        }
    }

    /// Kinds that hold what was before a turn and what is after it.
    pub fn widened(&self, homes: &[Val], ends: &[Val]) -> Option<Vec<Val>> {
        homes.iter().zip(ends).map(|(home, end)| wider(self.units, home, end)).collect()
    }
}

fn pairs(home: &Val, from: &Val) -> Vec<(u16, Term)> {
    let (mut to, mut sources) = (Vec::new(), Vec::new());
    home.terms(&mut |term| to.push(term));
    from.terms(&mut |term| sources.push(term));
    to.into_iter()
        .zip(sources)
        .filter_map(|(to, from)| if let Term::Reg(to) = to { Some((to, from)) } else { None })
        .collect()
}

fn wider(units: &standpipe_quantity::Units, home: &Val, end: &Val) -> Option<Val> {
    match (home, end) {
        (Val::Whole(_), Val::Whole(_)) | (Val::Number(_), Val::Number(_)) | (Val::Truth(_), Val::Truth(_)) => {
            Some(home.clone())
        }
        (Val::Text(_), Val::Text(_)) | (Val::Nothing, Val::Nothing) => Some(home.clone()),
        (Val::Whole(term) | Val::Number(term) | Val::Loose(term), Val::Whole(_) | Val::Number(_) | Val::Loose(_)) => {
            Some(Val::Loose(*term))
        }
        (Val::Quantity(a, si, written), Val::Quantity(b, ..)) => {
            if a.dimension != b.dimension || a.point != b.point {
                return None;
            }
            if a.of == b.of {
                return Some(home.clone());
            }
            let forgets = ![&a.of, &b.of].into_iter().flatten().any(|of| super::ways::is_distinct(units, of));
            forgets.then(|| Val::Quantity(Rc::new(Measure { of: None, ..(**a).clone() }), *si, *written))
        }
        (Val::Range(a), Val::Range(b)) => {
            Some(Val::Range(Rc::new((wider(units, &a.0, &b.0)?, wider(units, &a.1, &b.1)?))))
        }
        (Val::List(a), Val::List(b)) if a.len() == b.len() => {
            let slots: Option<Vec<Slot>> = a.iter().zip(b.iter()).map(|(a, b)| wider_slot(units, a, b)).collect();
            Some(Val::List(Rc::new(slots?)))
        }
        (Val::Record(a), Val::Record(b)) if a.len() == b.len() && a.keys().all(|key| b.contains_key(key)) => {
            let fields: Option<_> =
                a.iter().map(|(key, slot)| Some((key.clone(), wider_slot(units, slot, &b[key])?))).collect();
            Some(Val::Record(Rc::new(fields?)))
        }
        _ => None,
    }
}

fn wider_slot(units: &standpipe_quantity::Units, a: &Slot, b: &Slot) -> Option<Slot> {
    if a.there.is_some() != b.there.is_some() {
        return None;
    }
    Some(Slot { there: a.there, val: wider(units, &a.val, &b.val)? })
}

impl Val {
    /// The same with other numbers.
    pub fn with_terms(&self, each: &mut dyn FnMut(Term) -> Term) -> Val {
        match self {
            Self::Truth(term) => Self::Truth(each(*term)),
            Self::Whole(term) => Self::Whole(each(*term)),
            Self::Number(term) => Self::Number(each(*term)),
            Self::Loose(term) => Self::Loose(each(*term)),
            Self::Text(term) => Self::Text(each(*term)),
            Self::Quantity(measure, si, written) => Self::Quantity(measure.clone(), each(*si), each(*written)),
            Self::Range(ends) => {
                let low = ends.0.with_terms(each);
                Self::Range(Rc::new((low, ends.1.with_terms(each))))
            }
            Self::List(slots) => Self::List(Rc::new(slots.iter().map(|slot| slot.with_terms(each)).collect())),
            Self::Record(fields) => {
                Self::Record(Rc::new(fields.iter().map(|(name, slot)| (name.clone(), slot.with_terms(each))).collect()))
            }
            other => other.clone(),
        }
    }

    /// The same value as the kind of another that is no narrower.
    pub fn like(&self, other: &Val) -> Val {
        match (self, other) {
            (Self::Whole(term) | Self::Number(term), Self::Loose(_)) => Self::Loose(*term),
            (Self::Quantity(_, si, written), Self::Quantity(measure, ..)) => {
                Self::Quantity(measure.clone(), *si, *written)
            }
            (Self::List(a), Self::List(b)) => Self::List(Rc::new(
                a.iter().zip(b.iter()).map(|(a, b)| Slot { there: a.there, val: a.val.like(&b.val) }).collect(),
            )),
            (Self::Record(a), Self::Record(b)) => Self::Record(Rc::new(
                a.iter()
                    .map(|(key, slot)| {
                        let val = b.get(key).map_or_else(|| slot.val.clone(), |other| slot.val.like(&other.val));
                        (key.clone(), Slot { there: slot.there, val })
                    })
                    .collect(),
            )),
            _ => self.clone(),
        }
    }

    /// Whether both are of one kind, whatever their numbers are.
    pub fn is_like(&self, other: &Val) -> bool {
        match (self, other) {
            (Self::Quantity(a, ..), Self::Quantity(b, ..)) => a == b,
            (Self::Range(a), Self::Range(b)) => a.0.is_like(&b.0) && a.1.is_like(&b.1),
            (Self::List(a), Self::List(b)) => a.len() == b.len() && a.iter().zip(b.iter()).all(|(a, b)| a.is_like(b)),
            (Self::Record(a), Self::Record(b)) => {
                a.len() == b.len() && a.iter().zip(b.iter()).all(|((x, a), (y, b))| x == y && a.is_like(b))
            }
            _ => std::mem::discriminant(self) == std::mem::discriminant(other),
        }
    }
}

impl Slot {
    fn with_terms(&self, each: &mut dyn FnMut(Term) -> Term) -> Slot {
        Slot { there: self.there.map(&mut *each), val: self.val.with_terms(each) }
    }

    fn is_like(&self, other: &Slot) -> bool {
        self.there.is_some() == other.there.is_some() && self.val.is_like(&other.val)
    }
}
