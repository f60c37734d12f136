//! Expressions.

use std::rc::Rc;

use rhai::{ASTFlags, Expr, FnPtr, Position, Stmt};

use super::Lowering;
use super::program::{Kind, WrittenAs};
use super::value::{Closure, Measure, ONE, Slot, Term, Val, ZERO};
use super::ways::State;
use crate::limits;
use crate::operand::LARGEST_WHOLE;
use crate::walk::never_whole;
use standpipe_diagnostic::{Code, nearest};
use standpipe_quantity::Quantity;

/// What follows in a chain: the rest, whether it is an index, and its flags.
pub(super) type Rest<'a> = Option<(&'a Expr, bool, ASTFlags)>;

/// The first link of a chain, and what follows it.
pub(super) fn first_link(rest: &Expr, flags: ASTFlags) -> (&Expr, Rest<'_>) {
    match rest {
        Expr::Dot(parts, more, _) if !flags.intersects(ASTFlags::BREAK) => {
            (&parts.lhs, Some((&parts.rhs, false, *more)))
        }
        Expr::Index(parts, more, _) if !flags.intersects(ASTFlags::BREAK) => {
            (&parts.lhs, Some((&parts.rhs, true, *more)))
        }
        other => (other, None),
    }
}

impl Lowering<'_> {
    pub fn expr(&mut self, expr: &Expr) -> Val {
        self.spend(1);
        if self.over() {
            return Val::Any;
        }
        match expr {
            Expr::BoolConstant(truth, _) => Val::Truth(if *truth { ONE } else { ZERO }),
            // Between larger ones lie wholes that a number of 64 bits has no room for.
            Expr::IntegerConstant(number, position) if number.unsigned_abs() > LARGEST_WHOLE.unsigned_abs() => {
                self.give_up("a whole number of this size", *position)
            }
            Expr::IntegerConstant(number, _) => Val::Whole(Term::Const(*number as f64)),
            Expr::FloatConstant(number, _) => Val::Number(Term::Const(**number)),
            Expr::StringConstant(text, _) => self.text(text),
            Expr::CharConstant(letter, _) => self.text(&letter.to_string()),
            Expr::Unit(_) => Val::Nothing,
            Expr::InterpolatedString(parts, position) => {
                let vals: Vec<Val> = parts.iter().map(|part| self.expr(part)).collect();
                let mut whole = String::new();
                for val in vals {
                    let Val::Text(Term::Const(text)) = self.settled_call("text", &[val], *position) else {
                        return Val::Text(Term::Reg(0));
                    };
                    whole.push_str(self.program.texts.get(text as usize).map_or("", String::as_str));
                    if whole.len() > limits::TEXT {
                        return self.give_up("a text that grows large", *position);
                    }
                }
                self.text(&whole)
            }
            Expr::Array(items, position) => {
                let slots = items.iter().map(|item| Slot::new(self.expr(item))).collect();
                self.sized(Val::List(Rc::new(slots)), *position)
            }
            Expr::Map(entries, position) => {
                if self.looking {
                    for (name, value) in &entries.0 {
                        let at = (value.start_position(), never_whole(value));
                        self.named.insert((self.home.file(), name.name.clone()), at);
                    }
                }
                let fields: Vec<_> =
                    entries.0.iter().map(|(name, value)| (name.name.clone(), Slot::new(self.expr(value)))).collect();
                self.sized(Val::record(fields), *position)
            }
            Expr::Variable(parts, _, position) => {
                if !parts.2.is_empty() {
                    return self.constant(&parts.1, *position);
                }
                match self.variable(&parts.1) {
                    Some(val) => val,
                    None => self.give_up(format!("the name `{}`", parts.1), *position),
                }
            }
            Expr::Stmt(block) => self.block(block),
            Expr::FnCall(call, position) => self.call(call, *position),
            Expr::And(parts, position) => self.joined(parts, *position, false),
            Expr::Or(parts, position) => self.joined(parts, *position, true),
            Expr::Dot(parts, flags, _) => {
                let first = self.expr(&parts.lhs);
                self.chain(first, Some(&parts.lhs), &parts.rhs, false, *flags)
            }
            Expr::Index(parts, flags, _) => {
                let first = self.expr(&parts.lhs);
                self.chain(first, Some(&parts.lhs), &parts.rhs, true, *flags)
            }
            Expr::DynamicConstant(value, position) => match value.read_lock::<FnPtr>() {
                Some(function) => Val::Function(Rc::new(Closure {
                    file: self.home.file(),
                    name: function.fn_name().into(),
                    captured: Vec::new(),
                })),
                None => self.give_up("a constant of another kind", *position),
            },
            other => self.give_up("an expression of another kind", other.position()),
        }
    }

    pub fn variable(&self, name: &str) -> Option<Val> {
        self.vars.iter().rev().find(|var| var.name == name).map(|var| var.val.clone())
    }

    /// `global::NAME`: constants are expressions without inputs.
    fn constant(&mut self, name: &str, position: Position) -> Val {
        let key = (self.home.file(), name.into());
        if let Some(known) = self.constants.get(&key) {
            return known.clone();
        }
        let home = self.home.clone();
        let declared = home.ast().statements().iter().find_map(|stmt| match stmt {
            Stmt::Var(declared, ..) if declared.0.name == name => Some(&declared.1),
            _ => None,
        });
        let Some(declared) = declared else {
            return self.give_up(format!("the constant `{name}`"), position);
        };
        let vars = std::mem::take(&mut self.vars);
        let val = self.expr(declared);
        self.vars = vars;
        if val.is_settled() && self.state == State::Live {
            self.constants.insert(key, val.clone());
        }
        val
    }

    /// `&&` and `||`: what comes later is looked at only if it matters.
    fn joined(&mut self, parts: &[Expr], position: Position, decides: bool) -> Val {
        let Some((first, rest)) = parts.split_first() else { return Val::Truth(if decides { ZERO } else { ONE }) };
        let val = self.expr(first);
        let Some(truth) = self.truth(&val, first.start_position().or_else(position)) else { return Val::Truth(ZERO) };
        if rest.is_empty() {
            return Val::Truth(truth);
        }
        let at = self.at(position);
        let settled = |_: &mut Self| Val::Truth(if decides { ONE } else { ZERO });
        let goes_on = |lowering: &mut Self| lowering.joined(rest, position, decides);
        if decides { self.part(truth, at, settled, goes_on) } else { self.part(truth, at, goes_on, settled) }
    }

    /// A truth, or word that it is none.
    pub fn truth(&mut self, val: &Val, position: Position) -> Option<Term> {
        match val {
            Val::Truth(term) => Some(*term),
            Val::Any => {
                self.give_up("a condition whose kind only a run shows", position);
                None
            }
            other => {
                let message = format!("a condition is true or false, and this is {}", other.described(self.units));
                self.wrong(Code::DimensionClash, message, Some("compare it with something".to_owned()), position);
                None
            }
        }
    }

    /// `a.b.c`, `list[0].x`, `30.degC`, `list.len()`: one link after the other.
    fn chain(&mut self, from: Val, root: Option<&Expr>, rest: &Expr, index: bool, flags: ASTFlags) -> Val {
        if self.over() {
            return Val::Any;
        }
        let (link, next) = first_link(rest, flags);
        let val = if index {
            let at = self.expr(link);
            self.indexed(&from, &at, link.start_position())
        } else {
            match link {
                Expr::Property(named, position) => self.property(&from, &named.2, *position),
                Expr::MethodCall(call, position) => self.method(from, root, call, *position),
                other => self.give_up("a link of another kind", other.position()),
            }
        };
        match next {
            Some((rest, index, flags)) => self.chain(val, root, rest, index, flags),
            None => val,
        }
    }

    pub fn indexed(&mut self, from: &Val, at: &Val, position: Position) -> Val {
        match (from, at) {
            (Val::List(slots), Val::Whole(Term::Const(index))) => {
                let place = if *index < 0.0 { *index + slots.len() as f64 } else { *index };
                match slots.get(place as usize).filter(|_| place >= 0.0) {
                    Some(Slot { there: None, val }) if slots.iter().all(|slot| slot.there.is_none()) => val.clone(),
                    Some(_) => self.give_up("an entry of a list whose length only a run shows", position),
                    None => {
                        self.wrong(Code::FaultyScript, format!("the list has {} entries", slots.len()), None, position)
                    }
                }
            }
            (Val::ListOf(one), Val::Whole(_)) => {
                self.give_up("an entry of a list whose length only a run shows", position);
                (**one).clone()
            }
            (Val::List(slots), Val::Whole(_)) => {
                let all: Vec<Val> = slots.iter().map(|slot| slot.val.clone()).collect();
                self.give_up("an entry of a list at a place that only a run shows", position);
                self.any_of(&all)
            }
            (Val::Record(_), Val::Text(Term::Const(text))) => {
                let name = self.program.texts.get(*text as usize).cloned().unwrap_or_default();
                self.property(from, &name, position)
            }
            _ => self.give_up("an entry at a place that only a run shows", position),
        }
    }

    pub fn property(&mut self, from: &Val, name: &str, position: Position) -> Val {
        match from {
            Val::Any => self.give_up(format!("`.{name}` of a value whose kind only a run shows"), position),
            Val::Record(fields) => match fields.get(name) {
                Some(Slot { there: None, val: Val::Any }) => {
                    self.give_up(format!("`.{name}`, whose kind only a run shows"), position)
                }
                Some(Slot { there: None, val }) => val.clone(),
                Some(Slot { there: Some(there), val }) => {
                    let (there, val, at) = (*there, val.clone(), self.at(position));
                    self.part(
                        there,
                        at,
                        |_| Val::Nothing,
                        |lowering| {
                            // A record without it is refused, of whatever other kind it may be.
                            lowering.emit(super::code::Node::Refuse(at));
                            lowering.state = State::Gone;
                            Val::Any
                        },
                    );
                    val
                }
                None => {
                    let known: Vec<&str> = fields.keys().map(|name| name.as_str()).collect();
                    let help = match nearest(name, known.iter().copied()) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => format!("there are: {}", known.join(", ")),
                    };
                    let help = (!known.is_empty()).then_some(help);
                    self.wrong(Code::UnknownName, format!("there is nothing called `{name}` here"), help, position)
                }
            },
            Val::Range(ends) => match name {
                "low" | "high" => match if name == "low" { &ends.0 } else { &ends.1 } {
                    Val::Quantity(measure, si, written) => Val::collapsed((**measure).clone(), *si, *written),
                    other => other.clone(),
                },
                _ => self.wrong(Code::UnknownName, format!("a range has no `{name}`"), None, position),
            },
            Val::Number(term) | Val::Whole(term) | Val::Loose(term) => self.in_unit(*term, name, position),
            Val::Held(_) => self.give_up("a part of a date", position),
            Val::Quantity(..) => {
                let message = format!(
                    "`.{name}` makes a quantity of a plain number, but here it stands after {}",
                    from.described(self.units)
                );
                let help = format!("write `.value(\"{name}\")` for the number of {name} in it");
                self.wrong(Code::DimensionClash, message, Some(help), position)
            }
            other => {
                let message = format!("{} has no property `{name}`", other.described(self.units));
                self.wrong(Code::UnknownName, message, None, position)
            }
        }
    }

    /// `30.degC`: si = (number + shift) * factor, in this order.
    fn in_unit(&mut self, number: Term, name: &str, position: Position) -> Val {
        let Some((family, unit)) = self.units.script_unit(name) else {
            return self.wrong(Code::UnknownName, format!("there is no unit `{name}`"), None, position);
        };
        let measure = Measure { dimension: family.dimension, point: family.point, of: Some(family.name) };
        let (shift, factor) = (Term::Const(unit.shift), Term::Const(unit.factor));
        let shifted = self.op(Kind::Add, number, shift, position);
        let si = self.op(Kind::Mul, shifted, factor, position);
        Val::collapsed(measure, si, ZERO)
    }

    /// A settled quantity, with how it was written.
    pub fn settled_quantity(&mut self, quantity: &Quantity) -> (Rc<Measure>, Term, Term) {
        let written = match &quantity.written {
            Some(written) => self.note_written(
                &written.unit.clone(),
                Term::Const(written.value),
                WrittenAs::Settled(written.clone()),
            ),
            None => ZERO,
        };
        (Rc::new(Measure::of(quantity)), Term::Const(quantity.si), written)
    }
}
