//! Statements.

use rhai::{ASTFlags, Expr, FlowControl, Position, Stmt, StmtBlock};

use super::assign::assigned;
use super::code::Node;
use super::program::{At, Kind};
use super::value::{ONE, Slot, Term, Val, ZERO};
use super::ways::{State, Var};
use super::{LONGEST, Lowering};

/// A loop around the statement being lowered: where `break` and `continue` lead to.
#[derive(Clone, Copy)]
pub(super) struct Around {
    out: usize,
    next: usize,
}

impl Lowering<'_> {
    pub fn block(&mut self, block: &StmtBlock) -> Val {
        let depth = self.vars.len();
        let val = self.statements(block.statements());
        self.vars.truncate(depth);
        val
    }

    pub fn statements(&mut self, stmts: &[Stmt]) -> Val {
        let mut val = Val::Nothing;
        for stmt in stmts {
            if self.over() {
                return Val::Any;
            }
            self.spend(1);
            val = self.stmt(stmt);
        }
        val
    }

    fn stmt(&mut self, stmt: &Stmt) -> Val {
        match stmt {
            Stmt::Noop(_) | Stmt::Share(_) => Val::Nothing,
            Stmt::Expr(expr) => self.expr(expr),
            Stmt::FnCall(call, position) => self.call(call, *position),
            Stmt::Block(block) => self.block(block),
            Stmt::If(flow, position) => {
                let val = self.expr(&flow.expr);
                let Some(truth) = self.truth(&val, flow.expr.start_position().or_else(*position)) else {
                    // Both ways are still looked at.
                    self.part(
                        Term::Reg(0),
                        self.at(*position),
                        |one| one.block(&flow.body),
                        |one| one.block(&flow.branch),
                    );
                    return Val::Any;
                };
                let at = self.at(*position);
                let (mut first, mut second) = (Val::Nothing, Val::Nothing);
                let val = self.part(
                    truth,
                    at,
                    |one| {
                        first = one.block(&flow.body);
                        first.clone()
                    },
                    |one| {
                        second = one.block(&flow.branch);
                        second.clone()
                    },
                );
                self.look_at_ways(&first, &second, at);
                val
            }
            Stmt::Var(declared, ..) => {
                let val = self.expr(&declared.1);
                if !self.over() {
                    self.vars.push(Var { name: declared.0.name.clone(), val });
                }
                Val::Nothing
            }
            Stmt::Assignment(assignment) => {
                self.assignment(&assignment.0, &assignment.1);
                Val::Nothing
            }
            Stmt::Return(expr, flags, position) => {
                self.leave(expr.as_deref(), flags.intersects(ASTFlags::BREAK), *position)
            }
            Stmt::For(parts, position) => {
                let over = self.expr(&parts.2.expr);
                self.for_each(&over, &parts.0.name, parts.1.as_ref().map(|counter| &counter.name), &parts.2, *position);
                Val::Nothing
            }
            Stmt::While(flow, position) => {
                self.turns(&flow.body, *position, None, |one| {
                    if matches!(flow.expr, Expr::Unit(_)) {
                        return Some(ONE);
                    }
                    let val = one.expr(&flow.expr);
                    one.truth(&val, flow.expr.start_position())
                });
                Val::Nothing
            }
            Stmt::BreakLoop(value, flags, position) => {
                let at = self.at(*position);
                match (self.loops.last().copied(), value) {
                    (Some(around), None) => {
                        let join = if flags.intersects(ASTFlags::BREAK) { around.out } else { around.next };
                        self.jump(join, Val::Nothing, at);
                        Val::Any
                    }
                    _ => self.give_up("a `break` with a value", *position),
                }
            }
            other => self.give_up("a statement of another kind", other.position()),
        }
    }

    /// `return` and `throw`.
    fn leave(&mut self, expr: Option<&Expr>, throws: bool, position: Position) -> Val {
        let at = self.at(position);
        if throws {
            self.emit(Node::Refuse(at));
            self.stop();
        }
        let val = expr.map_or(Val::Nothing, |expr| self.expr(expr));
        if throws {
            self.state = State::Gone;
            return Val::Any;
        }
        match self.frame {
            Some(end) => self.jump(end, val, at),
            None => self.result(&val, at),
        }
        Val::Any
    }

    /// The program ends with this value.
    pub fn result(&mut self, val: &Val, at: At) {
        if self.state == State::Gone {
            return;
        }
        self.results.push((val.clone(), at));
        if self.state == State::Live && !self.is_presentable(val) {
            self.give_up("a result of a kind that only a run shows", at.position);
        }
        let result = self.program.results.len().min(usize::from(u16::MAX)) as u16;
        self.program.results.push(val.clone());
        self.emit(Node::Finish { result, at });
        self.state = State::Gone;
    }

    fn for_each(
        &mut self,
        over: &Val,
        name: &rhai::ImmutableString,
        counter: Option<&rhai::ImmutableString>,
        flow: &FlowControl,
        position: Position,
    ) {
        match over {
            Val::Counting(from, to, inclusive) => {
                let (from, to, inclusive) = (*from, *to, *inclusive);
                if counter.is_none() && self.counted(from, to, inclusive, name, flow, position) {
                    return;
                }
                let (Term::Const(from), Term::Const(to)) = (from, to) else {
                    self.give_up("a loop whose turns only a run shows", position);
                    return;
                };
                let last = if inclusive { to } else { to - 1.0 };
                let turns = (last - from + 1.0).max(0.0);
                let slots: Vec<Slot> = if turns <= LONGEST as f64 {
                    (0..turns as usize).map(|turn| Slot::new(Val::Whole(Term::Const(from + turn as f64)))).collect()
                } else {
                    self.give_up("a loop of so many turns", position);
                    vec![Slot { there: Some(Term::Reg(0)), val: Val::Whole(Term::Reg(0)) }]
                };
                self.unrolled(&slots, name, counter, flow, position);
            }
            Val::List(slots) => {
                let slots = slots.clone();
                self.unrolled(&slots, name, counter, flow, position);
            }
            Val::ListOf(one) => {
                let one = (**one).clone();
                self.give_up("a loop over a list whose length only a run shows", position);
                let counter_slot = Slot { there: Some(Term::Reg(0)), val: one };
                self.unrolled(&[counter_slot], name, counter, flow, position);
            }
            _ => {
                self.give_up("a loop over what only a run shows", position);
            }
        }
    }

    /// One turn after the other, written out.
    fn unrolled(
        &mut self,
        slots: &[Slot],
        name: &rhai::ImmutableString,
        counter: Option<&rhai::ImmutableString>,
        flow: &FlowControl,
        position: Position,
    ) {
        let at = self.at(position);
        let depth = self.vars.len();
        let out = self.new_join(depth);
        let mut index = ZERO;
        for slot in slots {
            if self.over() {
                break;
            }
            let there = slot.there.unwrap_or(ONE);
            let before = index;
            self.part(
                there,
                at,
                |one| {
                    let next = one.new_join(depth);
                    one.loops.push(Around { out, next });
                    one.vars.push(Var { name: name.clone(), val: slot.val.clone() });
                    if let Some(counter) = counter {
                        one.vars.push(Var { name: counter.clone(), val: Val::Whole(before) });
                    }
                    one.block(&flow.body);
                    one.vars.truncate(depth);
                    one.loops.pop();
                    if one.joins_at(next) {
                        one.jump(next, Val::Nothing, at);
                        one.land(next);
                    }
                    Val::Nothing
                },
                |_| Val::Nothing,
            );
            if counter.is_some() {
                index = self.op(Kind::WholeAdd, index, there, position);
            }
        }
        self.vars.truncate(depth);
        if self.joins_at(out) {
            self.jump(out, Val::Nothing, at);
            self.land(out);
        }
    }

    /// A counting loop as a loop; false, and nothing done, where its body has to know the number beforehand.
    fn counted(
        &mut self,
        from: Term,
        to: Term,
        inclusive: bool,
        name: &rhai::ImmutableString,
        flow: &FlowControl,
        position: Position,
    ) -> bool {
        if self.state != State::Live {
            let depth = self.vars.len();
            let slot = Slot { there: Some(Term::Reg(0)), val: Val::Whole(Term::Reg(0)) };
            self.unrolled(&[slot], name, None, flow, position);
            self.vars.truncate(depth);
            return true;
        }
        let depth = self.vars.len();
        // Of a name that no script can write.
        self.vars.push(Var { name: "0".into(), val: Val::Whole(from) });
        let before = self.snapshot();
        let kind = if inclusive { Kind::WholeLessEqual } else { Kind::WholeLess };
        let steady = self.turns(&flow.body, position, Some(name), |one| {
            let Some(Val::Whole(at)) = one.variable("0") else { return None };
            Some(one.op(kind, at, to, position))
        });
        if !steady {
            self.restore(before);
        }
        self.vars.truncate(depth);
        steady
    }

    /// Turns of a loop while a condition holds. What its body changes lies in registers of its own; false where that can't
    /// be, because its kind changes from turn to turn or the body can't be lowered without knowing the number.
    fn turns(
        &mut self,
        body: &StmtBlock,
        position: Position,
        counting: Option<&rhai::ImmutableString>,
        mut goes_on: impl FnMut(&mut Self) -> Option<Term>,
    ) -> bool {
        let at = self.at(position);
        let depth = self.vars.len();
        let names = assigned(body.statements());
        let changing: Vec<usize> = (0..depth)
            .filter(|index| {
                let name = &self.vars[*index].name;
                name == "0" && *index == depth - 1 && counting.is_some()
                    || names.contains(name) && self.vars.iter().rposition(|var| var.name == *name) == Some(*index)
            })
            .collect();
        let reasons = self.program.reasons.len();
        let mut homes: Vec<Val> = changing.iter().map(|index| self.vars[*index].val.clone()).collect();
        // Kinds may have to be widened once or twice before they stay the same.
        for _ in 0..3 {
            let before = self.snapshot();
            let mark = self.log.len();
            homes = homes.iter().map(|val| self.housed(val)).collect();
            for (index, home) in changing.iter().zip(&homes) {
                let from = self.vars[*index].val.clone();
                self.move_into(home, &from, at);
                self.vars[*index].val = home.clone();
            }
            self.heads += 1;
            let head = self.heads;
            self.emit(Node::Loop { head });
            let out = self.new_join(depth);
            let next = self.new_join(depth);
            let truth = goes_on(self).unwrap_or(ZERO);
            self.part(
                truth,
                at,
                |_| Val::Nothing,
                |one| {
                    one.jump(out, Val::Nothing, at);
                    Val::Any
                },
            );
            if let Some(name) = counting {
                let val = self.variable("0").unwrap_or(Val::Any);
                self.vars.push(Var { name: name.clone(), val });
            }
            self.loops.push(Around { out, next });
            self.block(body);
            self.loops.pop();
            self.vars.truncate(depth);
            self.jump(next, Val::Nothing, at);
            self.land(next);
            if let (Some(_), Some(Val::Whole(index))) = (counting, self.variable("0")) {
                let more = self.op(Kind::WholeAdd, index, ONE, position);
                self.vars[depth - 1].val = Val::Whole(more);
            }
            let ends: Vec<Val> = changing.iter().map(|index| self.vars[*index].val.clone()).collect();
            let over = self.over();
            let wider = if over { Some(homes.clone()) } else { self.widened(&homes, &ends) };
            let gave_up = self.program.reasons.len() > reasons && counting.is_some();
            match wider {
                Some(wider) if !gave_up && wider.iter().zip(&homes).all(|(a, b)| a.is_like(b)) => {
                    self.move_back(&homes, &ends, at);
                    self.emit(Node::Again { head, at });
                    self.state = State::Gone;
                    self.forget(mark);
                    self.land(out);
                    return true;
                }
                Some(wider) if !gave_up => {
                    self.restore(before);
                    homes = wider;
                    for (index, home) in changing.iter().zip(&homes) {
                        let from = self.vars[*index].val.clone();
                        self.vars[*index].val = from.like(home);
                    }
                }
                _ => {
                    self.restore(before);
                    break;
                }
            }
        }
        if counting.is_none() {
            self.give_up("a loop that changes the kind of a value", position);
        }
        false
    }
}
