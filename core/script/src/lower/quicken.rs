//! The same program in fewer and cheaper steps.
//!
//! What comes out is the same to the last bit, and nothing comes out where the program as written refuses or hands over;
//! only where it does so can differ, and that is looked up in the program as written. Steps that go:
//! - a comparison whose truth is wanted by the jump behind it alone becomes one with it;
//! - a number that is only moved on is made where it is moved to;
//! - jumps lead where the jumps that they lead to lead;
//! - a number that is not finite is let pass where all that follows on that way runs into it: infinities and NaN survive
//!   sums, products and dividends, so that it is enough to look at the last number of a formula. They can get lost in a divisor
//!   (1/inf), in exp(-inf), in comparisons and powers: what goes into these is looked at where it is made, if nothing else sees
//!   it.

use super::program::{Code, Kind, Op, Program};
use super::value::Term;

pub(super) fn quicken(program: &Program) -> Code {
    let mut work = Work::new(program);
    work.fuse();
    work.shortcut();
    work.make_in_place();
    work.let_pass();
    work.code()
}

struct Work<'a> {
    program: &'a Program,
    ops: Vec<Option<Op>>,
    /// Whether a jump leads there.
    entered: Vec<bool>,
    /// How often each register is read and written; results count as read often.
    read: Vec<u32>,
    written: Vec<u32>,
}

impl<'a> Work<'a> {
    fn new(program: &'a Program) -> Self {
        let code = &program.code;
        let count = program.registers + program.constants.len();
        let mut work = Self {
            program,
            ops: code.ops.iter().copied().map(Some).collect(),
            entered: vec![false; code.ops.len() + 1],
            read: vec![0; count],
            written: vec![0; count],
        };
        for to in code.ops.iter().filter_map(Op::target).chain(code.starts.iter().copied()) {
            work.entered[to as usize] = true;
        }
        for mut op in code.ops.iter().copied() {
            op.from().into_iter().flatten().for_each(|register| work.read[usize::from(register)] += 1);
            op.to().into_iter().for_each(|register| work.written[usize::from(*register)] += 1);
        }
        for part in &program.parts {
            part.from().into_iter().flatten().for_each(|register| work.read[usize::from(register)] += 1);
            part.to().into_iter().for_each(|register| work.written[usize::from(register)] += 1);
        }
        let mut shown = |term| {
            if let Term::Reg(register) = term {
                work.read[usize::from(register)] += 2;
            }
        };
        program.results.iter().for_each(|result| result.terms(&mut shown));
        work
    }

    /// The next instruction that is still there.
    fn next(&self, at: usize) -> usize {
        (at..self.ops.len()).find(|at| self.ops[*at].is_some()).unwrap_or(self.ops.len())
    }

    /// From the end, so that a `not` is gone before the comparison that it turns round is looked at.
    fn fuse(&mut self) {
        for at in (0..self.ops.len()).rev() {
            let Some(Op::Do { kind, to: made, a, b }) = self.ops[at] else { continue };
            let next = self.next(at + 1);
            if self.read[usize::from(made)] != 1 || (at + 1..=next).any(|at| self.entered[at]) {
                continue;
            }
            let (truth, to, holds) = match self.ops.get(next) {
                Some(Some(Op::JumpIf { truth, to })) => (*truth, *to, true),
                Some(Some(Op::JumpUnless { truth, to })) => (*truth, *to, false),
                _ => continue,
            };
            let fused = match (kind.compares(), u16::try_from(to)) {
                _ if truth != made => continue,
                (true, Ok(to)) if holds => Op::If { kind, a, b, to },
                (true, Ok(to)) => Op::Unless { kind, a, b, to },
                _ if kind == Kind::Not && holds => Op::JumpUnless { truth: a, to },
                _ if kind == Kind::Not => Op::JumpIf { truth: a, to },
                _ => continue,
            };
            self.ops[at] = None;
            self.ops[next] = Some(fused);
        }
    }

    fn shortcut(&mut self) {
        for at in (0..self.ops.len()).rev() {
            let Some(Op::Jump { to }) = self.ops[at] else { continue };
            let next = self.next(to as usize);
            match self.ops.get(next).copied() {
                // Forwards only, so that this comes to an end.
                Some(Some(Op::Jump { to })) if to as usize > next => self.ops[at] = Some(Op::Jump { to }),
                Some(Some(Op::Finish { result })) => self.ops[at] = Some(Op::Finish { result }),
                _ => {}
            }
        }
    }

    fn make_in_place(&mut self) {
        for at in 0..self.ops.len() {
            let Some(Op::Do { kind: Kind::Move, to, a: from, .. }) = self.ops[at] else { continue };
            if self.read[usize::from(to)] == 0 {
                self.ops[at] = None;
            } else if self.read[usize::from(from)] == 1 && self.written[usize::from(from)] == 1 {
                self.make_in(from, to, at);
            }
        }
    }

    /// Looks back from a move for the instruction that made what is moved.
    fn make_in(&mut self, from: u16, to: u16, moved: usize) {
        for at in (0..moved).rev() {
            if self.entered[at + 1] {
                return;
            }
            let Some(mut op) = self.ops[at] else { continue };
            if op.target().is_some() || matches!(op, Op::Call { .. }) {
                return;
            }
            let reads = op.from().contains(&Some(to));
            match op.to() {
                Some(made) if *made == from => {
                    *made = to;
                    self.ops[at] = Some(op);
                    self.ops[moved] = None;
                    return;
                }
                Some(other) if *other == to => return,
                _ if reads => return,
                _ => {}
            }
        }
    }

    /// Goes from the end of each way to its beginning with the registers that will be looked at, whatever happens.
    fn let_pass(&mut self) {
        let mut seen = Seen { since: vec![0; self.read.len()], now: 1 };
        for op in self.ops.iter_mut().rev().flatten() {
            let will_be = match op.to() {
                Some(to) => seen.remove(*to),
                None => {
                    seen.clear();
                    continue;
                }
            };
            let Op::Do { kind, to, a, b } = *op else {
                // A number in a unit.
                op.from().into_iter().flatten().for_each(|register| seen.add(register));
                continue;
            };
            *op = match kind {
                // Of what is finite or will be looked at they make the same.
                Kind::Move => Op::Move { to, a },
                Kind::Negate => Op::Negate { to, a },
                Kind::Add if will_be => Op::Add { to, a, b },
                Kind::Sub if will_be => Op::Sub { to, a, b },
                Kind::Mul if will_be => Op::Mul { to, a, b },
                Kind::Div if will_be => Op::Div { to, a, b },
                Kind::Exp if will_be => Op::Exp { to, a },
                _ => *op,
            };
            let unseen = matches!(op, Op::Move { .. } | Op::Negate { .. }) && !will_be;
            if !unseen && (kind.shows_first() || matches!(op, Op::Exp { .. })) {
                seen.add(a);
            }
            if matches!(kind, Kind::Add | Kind::Sub | Kind::Mul) {
                seen.add(b);
            }
        }
    }

    fn code(self) -> Code {
        let mut places = Vec::with_capacity(self.ops.len() + 1);
        let mut count = 0;
        for op in &self.ops {
            places.push(count);
            count += u32::from(op.is_some());
        }
        places.push(count);
        let moved = |to: u32| places[to as usize];
        let mut code =
            Code { starts: self.program.code.starts.iter().map(|start| moved(*start)).collect(), ..Code::default() };
        for (op, at) in self.ops.into_iter().zip(&self.program.code.places) {
            let Some(mut op) = op else { continue };
            match &mut op {
                Op::Jump { to } | Op::JumpIf { to, .. } | Op::JumpUnless { to, .. } | Op::Back { to } => {
                    *to = moved(*to)
                }
                Op::If { to, .. } | Op::Unless { to, .. } => *to = moved(u32::from(*to)) as u16,
                _ => {}
            }
            code.ops.push(op);
            code.places.push(*at);
        }
        code
    }
}

/// Registers of which it is certain that a number in them that is not finite ends the program.
struct Seen {
    since: Vec<u32>,
    now: u32,
}

impl Seen {
    fn add(&mut self, register: u16) {
        self.since[usize::from(register)] = self.now;
    }

    fn remove(&mut self, register: u16) -> bool {
        std::mem::take(&mut self.since[usize::from(register)]) == self.now
    }

    fn clear(&mut self) {
        self.now += 1;
    }
}

impl Kind {
    fn compares(self) -> bool {
        use Kind::*;
        matches!(self, Less | LessEqual | Equal | WholeLess | WholeLessEqual | WholeEqual)
    }

    /// Whether there is an instruction for it that does not look at what comes of it.
    pub fn may_pass(self) -> bool {
        matches!(self, Kind::Add | Kind::Sub | Kind::Mul | Kind::Div | Kind::Exp)
    }

    /// Whether nothing finite comes of a first number that is not.
    fn shows_first(self) -> bool {
        use Kind::*;
        match self {
            Move | Negate | Minus | Add | Sub | Mul | Div | Abs | Root | RootOf | Ln | Log10 | Sin | Cos | Tan => true,
            Floor | Ceil | Round | RoundTo | AsWhole | WholeAdd | WholeSub | WholeMul => true,
            Rem | WholeRem | WholePow | Pow | PowWhole | Exp | Atan | Not => false,
            Less | LessEqual | Equal | WholeLess | WholeLessEqual | WholeEqual => false,
        }
    }
}
