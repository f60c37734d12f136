//! Assignments: to variables, and to what lies in them.

use std::rc::Rc;

use rhai::{ASTFlags, ASTNode, BinaryExpr, Expr, ImmutableString, OpAssignment, Position, Stmt};

use super::Lowering;
use super::expr::{Rest, first_link};
use super::value::{Slot, Term, Val};

/// The variables that statements may change.
pub(super) fn assigned(stmts: &[Stmt]) -> Vec<ImmutableString> {
    let mut names = Vec::new();
    for stmt in stmts {
        stmt.walk(&mut Vec::new(), &mut |nodes: &[ASTNode<'_>]| {
            if let Some(ASTNode::Stmt(Stmt::Assignment(assignment))) = nodes.last()
                && let Some(name) = root(&assignment.1.lhs)
                && !names.contains(name)
            {
                names.push(name.clone());
            }
            true
        });
    }
    names
}

fn root(expr: &Expr) -> Option<&ImmutableString> {
    match expr {
        Expr::Variable(parts, ..) => Some(&parts.1),
        Expr::Dot(parts, ..) | Expr::Index(parts, ..) => root(&parts.lhs),
        _ => None,
    }
}

impl Lowering<'_> {
    pub fn assignment(&mut self, operator: &OpAssignment, sides: &BinaryExpr) {
        let position = operator.position();
        let val = self.expr(&sides.rhs);
        if self.over() {
            return;
        }
        let Some(name) = root(&sides.lhs).cloned() else {
            self.give_up("an assignment of another kind", position);
            return;
        };
        let Some(index) = self.vars.iter().rposition(|var| var.name == name) else {
            self.give_up(format!("the name `{name}`"), position);
            return;
        };
        let whole = self.vars[index].val.clone();
        let operator = operator.get_op_assignment_info().map(|info| info.5);
        let changed = match &sides.lhs {
            Expr::Variable(..) => Some(self.combined(operator, Some(whole), val, position)),
            Expr::Dot(parts, flags, _) => self.inside(&whole, &parts.rhs, false, *flags, (operator, val, position)),
            Expr::Index(parts, flags, _) => self.inside(&whole, &parts.rhs, true, *flags, (operator, val, position)),
            _ => None,
        };
        match changed {
            Some(changed) if !self.over() => self.vars[index].val = self.sized(changed, position),
            Some(_) => {}
            None => {
                self.give_up("an assignment of another kind", position);
            }
        }
    }

    fn combined(&mut self, operator: Option<&str>, old: Option<Val>, new: Val, position: Position) -> Val {
        match (operator, old) {
            (None, _) => new,
            (Some(operator), Some(old)) => self.binary(operator, &old, &new, position),
            (Some(_), None) => self.give_up("a change of what is not there", position),
        }
    }

    /// The value with something in it replaced.
    fn inside(
        &mut self,
        whole: &Val,
        rest: &Expr,
        index: bool,
        flags: ASTFlags,
        what: (Option<&str>, Val, Position),
    ) -> Option<Val> {
        let (link, next) = first_link(rest, flags);
        let key = match (index, link) {
            (false, Expr::Property(named, _)) => named.2.clone(),
            (true, link) => match self.expr(link) {
                Val::Text(Term::Const(text)) => self.program.texts.get(text as usize)?.as_str().into(),
                Val::Whole(Term::Const(at)) => return self.replaced(whole, at, next, what),
                _ => return None,
            },
            _ => return None,
        };
        let Val::Record(fields) = whole else { return None };
        let old = fields.get(&key).cloned();
        if old.as_ref().is_some_and(|slot| slot.there.is_some()) && (next.is_some() || what.0.is_some()) {
            return None;
        }
        let position = what.2;
        let new = match next {
            Some((rest, index, flags)) => self.inside(&old?.val, rest, index, flags, what)?,
            None => self.combined(what.0, old.map(|slot| slot.val), what.1, position),
        };
        let mut fields = fields.clone();
        Rc::make_mut(&mut fields).insert(key, Slot::new(new));
        Some(Val::Record(fields))
    }

    fn replaced(&mut self, whole: &Val, at: f64, next: Rest<'_>, what: (Option<&str>, Val, Position)) -> Option<Val> {
        let Val::List(slots) = whole else { return None };
        if at < 0.0 || at as usize >= slots.len() || slots.iter().any(|slot| slot.there.is_some()) {
            return None;
        }
        let old = slots[at as usize].val.clone();
        let position = what.2;
        let new = match next {
            Some((rest, index, flags)) => self.inside(&old, rest, index, flags, what)?,
            None => self.combined(what.0, Some(old), what.1, position),
        };
        let mut slots = slots.clone();
        Rc::make_mut(&mut slots)[at as usize] = Slot::new(new);
        Some(Val::List(slots))
    }
}
