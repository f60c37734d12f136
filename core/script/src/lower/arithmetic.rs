//! Operators. The dimension of a result is asked of the same units as in a run, with values that stand for all.

use std::rc::Rc;

use rhai::Position;

use super::Lowering;
use super::program::Kind;
use super::value::{Measure, ONE, Term, Val, ZERO};
use standpipe_diagnostic::Code;
use standpipe_quantity::{DimensionFault, Quantity};

impl Lowering<'_> {
    pub fn binary(&mut self, name: &str, a: &Val, b: &Val, position: Position) -> Val {
        if self.over() {
            return Val::Any;
        }
        match name {
            "==" => self.equal(a, b, position).map_or(Val::Any, Val::Truth),
            "!=" => match self.equal(a, b, position) {
                Some(same) => Val::Truth(self.one(Kind::Not, same, position)),
                None => Val::Any,
            },
            "<" | "<=" | ">" | ">=" => self.ordered(name, a, b, position).map_or(Val::Any, Val::Truth),
            "contains" => self.contains(a, b, position).map_or(Val::Any, Val::Truth),
            "+" | "-" | "*" | "/" => self.reckon(name, a, b, position),
            "%" => self.remainder(a, b, position),
            "**" => self.power(a, b, position),
            ".." | "..=" => match (whole(a), whole(b)) {
                (Some(from), Some(to)) => {
                    let from = self.one(Kind::AsWhole, from, position);
                    let to = self.one(Kind::AsWhole, to, position);
                    Val::Counting(from, to, name == "..=")
                }
                _ => self.unfit("counts", a, b, position),
            },
            _ => self.give_up(format!("the operator `{name}`"), position),
        }
    }

    pub fn unary(&mut self, name: &str, a: &Val, position: Position) -> Val {
        match (name, a) {
            ("-", Val::Number(term)) => Val::Number(self.one(Kind::Negate, *term, position)),
            ("-", Val::Whole(term)) => Val::Whole(self.op(Kind::WholeSub, ZERO, *term, position)),
            ("-", Val::Quantity(measure, si, _)) => {
                let measure = measure.clone();
                if let Err(fault) = self.units.neg(&measure.with(1.0)) {
                    let message = format!("{} can't be made negative", a.described(self.units));
                    return self.clash(fault, message, false, position);
                }
                let si = self.one(Kind::Minus, *si, position);
                Val::collapsed((*measure).clone(), si, ZERO)
            }
            ("+", Val::Number(_) | Val::Whole(_) | Val::Loose(_) | Val::Quantity(..)) => a.clone(),
            ("!", Val::Truth(term)) => Val::Truth(self.one(Kind::Not, *term, position)),
            ("!" | "-" | "+", Val::Any | Val::Loose(_)) => {
                self.give_up(format!("`{name}` before a value whose kind only a run shows"), position)
            }
            _ => self.wrong(
                Code::DimensionClash,
                format!("`{name}` can't stand before {}", a.described(self.units)),
                None,
                position,
            ),
        }
    }

    fn reckon(&mut self, name: &str, a: &Val, b: &Val, position: Position) -> Val {
        let (kind, of_wholes) = match name {
            "+" => (Kind::Add, Kind::WholeAdd),
            "-" => (Kind::Sub, Kind::WholeSub),
            "*" => (Kind::Mul, Kind::WholeMul),
            _ => (Kind::Div, Kind::Div),
        };
        match (a, b) {
            (Val::Number(x), Val::Number(y)) => return Val::Number(self.op(kind, *x, *y, position)),
            (Val::Whole(x), Val::Whole(y)) => {
                let result = self.op(of_wholes, *x, *y, position);
                return if name == "/" { Val::Number(result) } else { Val::Whole(result) };
            }
            (Val::Loose(x), Val::Loose(y) | Val::Whole(y)) | (Val::Whole(x), Val::Loose(y)) if name != "/" => {
                if name == "*" {
                    return self
                        .give_up("a product of numbers of which only a run shows whether they are whole", position);
                }
                return Val::Loose(self.op(kind, *x, *y, position));
            }
            (Val::List(x), Val::List(y)) if name == "+" => {
                return Val::List(Rc::new(x.iter().chain(y.iter()).cloned().collect()));
            }
            (Val::List(_) | Val::ListOf(_), Val::List(_) | Val::ListOf(_)) if name == "+" => {
                let ones: Vec<Val> = [a, b].into_iter().flat_map(entries_of).collect();
                self.give_up("a list whose length only a run shows", position);
                return Val::ListOf(Rc::new(self.any_of(&ones)));
            }
            (Val::Text(_), Val::Text(_)) if name == "+" => {
                return self.settled_call("+", &[a.clone(), b.clone()], position);
            }
            _ => {}
        }
        let (Some((left, x, _)), Some((right, y, _))) = (a.measured(), b.measured()) else {
            if let (Val::Held(_), Val::Held(_)) = (a, b) {
                return self.settled_call(name, &[a.clone(), b.clone()], position);
            }
            return self.unfit(name, a, b, position);
        };
        let (one, other) = (left.with(1.0), right.with(1.0));
        let (result, done) = match name {
            "+" => (self.units.add(&one, &other), "added to"),
            "-" => (self.units.sub(&one, &other), "taken from"),
            "*" => (self.units.mul(&one, &other), "multiplied by"),
            _ => (self.units.div(&one, &other), "divided by"),
        };
        match result {
            Ok(quantity) => {
                let si = self.op(kind, x, y, position);
                Val::collapsed(Measure::of(&quantity), si, ZERO)
            }
            Err(fault) => {
                let (first, second) = if name == "-" || name == "+" { (b, a) } else { (a, b) };
                self.mismatch(fault, [first, second], done, position)
            }
        }
    }

    /// Two kinds that don't go together.
    pub fn mismatch(&mut self, fault: DimensionFault, of: [&Val; 2], done: &str, position: Position) -> Val {
        let [first, second] = of.map(|one| one.described(self.units));
        let literal = of.iter().any(|one| one.measured().is_some_and(|(_, si, _)| si.is_const()));
        self.clash(fault, format!("{first} can't be {done} {second}"), literal, position)
    }

    fn unfit(&mut self, name: &str, a: &Val, b: &Val, position: Position) -> Val {
        if [a, b].into_iter().any(|one| matches!(one, Val::Any | Val::ListOf(_))) {
            return self.give_up(format!("`{name}` of a value whose kind only a run shows"), position);
        }
        let message = format!("`{name}` can't take {} and {}", a.described(self.units), b.described(self.units));
        self.wrong(Code::DimensionClash, message, None, position)
    }

    fn remainder(&mut self, a: &Val, b: &Val, position: Position) -> Val {
        match (a, b) {
            (Val::Whole(x), Val::Whole(y)) => Val::Whole(self.op(Kind::WholeRem, *x, *y, position)),
            (Val::Number(x) | Val::Whole(x), Val::Number(y) | Val::Whole(y)) => {
                Val::Number(self.op(Kind::Rem, *x, *y, position))
            }
            (Val::Loose(_), _) | (_, Val::Loose(_)) => {
                self.give_up("a remainder of a number of which only a run shows whether it is whole", position)
            }
            _ => self.unfit("%", a, b, position),
        }
    }

    pub fn power(&mut self, a: &Val, b: &Val, position: Position) -> Val {
        let by = match b {
            Val::Number(term) | Val::Whole(term) | Val::Loose(term) => *term,
            _ => return self.unfit("**", a, b, position),
        };
        match (a, b) {
            (Val::Whole(x), Val::Whole(Term::Const(y))) if *y < 0.0 => {
                Val::Number(self.op(Kind::Pow, *x, by, position))
            }
            (Val::Whole(x), Val::Whole(_)) => Val::Whole(self.op(Kind::WholePow, *x, by, position)),
            (Val::Whole(x), Val::Number(_)) | (Val::Loose(x), Val::Number(_)) | (Val::Number(x), _) => {
                Val::Number(self.op(Kind::Pow, *x, by, position))
            }
            (Val::Whole(_) | Val::Loose(_), _) => {
                self.give_up("a power of numbers of which only a run shows whether they are whole", position)
            }
            (Val::Quantity(measure, si, _), _) => {
                let Term::Const(by) = by else {
                    return self.give_up("a power of a quantity that is not settled beforehand", position);
                };
                self.raised(a, measure.clone(), *si, by, position)
            }
            _ => self.unfit("**", a, b, position),
        }
    }

    /// A power of something with a dimension, as [`standpipe_quantity::Units::pow`] takes it.
    pub fn raised(&mut self, a: &Val, measure: Rc<Measure>, si: Term, by: f64, position: Position) -> Val {
        match self.units.pow(&measure.with(1.0), by) {
            Err(fault) => {
                let message = format!("{} can't be raised to the power {by}", a.described(self.units));
                self.clash(fault, message, false, position)
            }
            Ok(quantity) => {
                let whole = by.fract() == 0.0 && by.abs() <= 1024.0;
                let si = if by == 0.5 {
                    self.one(Kind::RootOf, si, position)
                } else if let 2.0..=4.0 = by
                    && whole
                {
                    self.multiplied(si, by, position)
                } else {
                    self.op(if whole { Kind::PowWhole } else { Kind::Pow }, si, Term::Const(by), position)
                };
                Val::collapsed(Measure::of(&quantity), si, ZERO)
            }
        }
    }

    /// A square, third or fourth power, by the same products as `powi` takes.
    fn multiplied(&mut self, si: Term, by: f64, position: Position) -> Term {
        let square = self.op(Kind::Mul, si, si, position);
        match by {
            2.0 => square,
            3.0 => self.op(Kind::Mul, si, square, position),
            _ => self.op(Kind::Mul, square, square, position),
        }
    }

    pub fn and(&mut self, a: Term, b: Term, position: Position) -> Term {
        if a.same(ONE) {
            return b;
        }
        self.op(Kind::WholeMul, a, b, position)
    }

    pub fn or(&mut self, a: Term, b: Term, position: Position) -> Term {
        let both = self.op(Kind::WholeAdd, a, b, position);
        let none = self.one(Kind::Not, both, position);
        self.one(Kind::Not, none, position)
    }

    /// Whether two can be compared at all, and exactly: nothing is close to zero. Says so if not.
    pub fn comparable(&mut self, a: &Val, b: &Val, position: Position) -> Option<(Term, Term, bool)> {
        if let (Val::Whole(x), Val::Whole(y)) = (a, b) {
            return Some((*x, *y, true));
        }
        if let (Val::Loose(_), Val::Loose(_) | Val::Whole(_)) | (Val::Whole(_), Val::Loose(_)) = (a, b) {
            self.give_up("a comparison of numbers of which only a run shows whether they are whole", position);
            return None;
        }
        let (Some((left, x, _)), Some((right, y, _))) = (a.measured(), b.measured()) else {
            self.unlike(a, b, position);
            return None;
        };
        match self.units.compare(&left.with(1.0), &right.with(1.0)) {
            Ok(_) => Some((x, y, is_zero(x) || is_zero(y))),
            Err(fault) => {
                self.mismatch(fault, [a, b], "compared with", position);
                None
            }
        }
    }

    fn unlike(&mut self, a: &Val, b: &Val, position: Position) {
        match (a, b) {
            (Val::Any | Val::ListOf(_), _) | (_, Val::Any | Val::ListOf(_)) => {
                self.give_up("a comparison with a value whose kind only a run shows", position);
            }
            (Val::Held(_), Val::Held(_)) => {
                self.give_up("a comparison of dates or decimals", position);
            }
            (Val::Text(_), Val::Text(_)) => {
                let help = "compare texts with `==` or `!=`".to_owned();
                self.wrong(Code::DimensionClash, "texts have no order".to_owned(), Some(help), position);
            }
            _ => {
                let message = format!("{} can't be compared with {}", a.described(self.units), b.described(self.units));
                self.wrong(Code::DimensionClash, message, None, position);
            }
        }
    }

    pub fn ordered(&mut self, name: &str, a: &Val, b: &Val, position: Position) -> Option<Term> {
        if let (Val::Held(_), Val::Held(_)) = (a, b)
            && let Val::Truth(term) = self.settled_call(name, &[a.clone(), b.clone()], position)
        {
            return Some(term);
        }
        let (x, y, wholes) = self.comparable(a, b, position)?;
        let (kind, x, y) = match (name, wholes) {
            ("<", true) => (Kind::WholeLess, x, y),
            (">", true) => (Kind::WholeLess, y, x),
            ("<=", true) => (Kind::WholeLessEqual, x, y),
            (_, true) => (Kind::WholeLessEqual, y, x),
            ("<", _) => (Kind::Less, x, y),
            (">", _) => (Kind::Less, y, x),
            ("<=", _) => (Kind::LessEqual, x, y),
            (_, _) => (Kind::LessEqual, y, x),
        };
        Some(self.op(kind, x, y, position))
    }

    pub fn equal(&mut self, a: &Val, b: &Val, position: Position) -> Option<Term> {
        match (a, b) {
            (Val::Truth(x), Val::Truth(y)) | (Val::Text(x), Val::Text(y)) => {
                Some(self.op(Kind::WholeEqual, *x, *y, position))
            }
            (Val::Range(x), Val::Range(y)) => {
                let low = self.equal(&x.0, &y.0, position)?;
                let high = self.equal(&x.1, &y.1, position)?;
                Some(self.and(low, high, position))
            }
            (Val::List(_), Val::List(_)) | (Val::Record(_), Val::Record(_)) | (Val::Held(_), Val::Held(_)) => {
                match self.settled_call("==", &[a.clone(), b.clone()], position) {
                    Val::Truth(term) => Some(term),
                    _ => None,
                }
            }
            _ => {
                let (x, y, wholes) = self.comparable(a, b, position)?;
                Some(self.op(if wholes { Kind::WholeEqual } else { Kind::Equal }, x, y, position))
            }
        }
    }

    /// In a list: something equal; in a record: a key; in a range: between the ends or at one.
    pub fn contains(&mut self, outer: &Val, inner: &Val, position: Position) -> Option<Term> {
        match (outer, inner) {
            (Val::List(slots), _) => {
                let mut found = ZERO;
                for slot in slots.iter() {
                    let same = self.equal(&slot.val, inner, position)?;
                    let same = self.and(slot.there.unwrap_or(ONE), same, position);
                    found = self.or(found, same, position);
                }
                Some(found)
            }
            (Val::Record(fields), Val::Text(Term::Const(text))) => {
                let name = self.program.texts.get(*text as usize)?;
                let slot = fields.get(name.as_str());
                Some(slot.map_or(ZERO, |slot| slot.there.unwrap_or(ONE)))
            }
            (Val::Text(_), Val::Text(_)) => {
                match self.settled_call("contains", &[outer.clone(), inner.clone()], position) {
                    Val::Truth(term) => Some(term),
                    _ => None,
                }
            }
            (Val::Range(ends), _) if inner.measured().is_some() => {
                let ends = ends.clone();
                self.within(inner, &ends.0, &ends.1, position)
            }
            (Val::Any | Val::ListOf(_), _) | (_, Val::Any) | (Val::Record(_), Val::Text(_)) => {
                self.give_up("a look into a value whose kind only a run shows", position);
                None
            }
            _ => {
                let message =
                    format!("can't look for {} in {}", inner.described(self.units), outer.described(self.units));
                self.wrong(Code::DimensionClash, message, None, position);
                None
            }
        }
    }

    pub fn within(&mut self, value: &Val, low: &Val, high: &Val, position: Position) -> Option<Term> {
        // An end is a quantity even where it is a number, so that its comparison is never one of whole numbers.
        let value = match value {
            Val::Whole(term) | Val::Loose(term) => Val::Number(*term),
            other => other.clone(),
        };
        let above = self.ordered(">=", &value, low, position)?;
        let below = self.ordered("<=", &value, high, position)?;
        Some(self.and(above, below, position))
    }

    /// The value as a quantity, as ends of ranges and entries of sums are.
    pub fn as_quantity(val: &Val) -> Option<(Rc<Measure>, Term, Term)> {
        val.measured().map(|(measure, si, written)| (Rc::new(measure), si, written))
    }

    pub fn stand_in(val: &Val) -> Option<Quantity> {
        val.measured().map(|(measure, ..)| measure.with(1.0))
    }
}

fn is_zero(term: Term) -> bool {
    matches!(term, Term::Const(0.0))
}

pub(super) fn whole(val: &Val) -> Option<Term> {
    match val {
        Val::Whole(term) | Val::Number(term) | Val::Loose(term) => Some(*term),
        _ => None,
    }
}

fn entries_of(val: &Val) -> Vec<Val> {
    match val {
        Val::List(slots) => slots.iter().map(|slot| slot.val.clone()).collect(),
        Val::ListOf(one) => vec![(**one).clone()],
        _ => Vec::new(),
    }
}
