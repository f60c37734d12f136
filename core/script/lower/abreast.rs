//! A program over many rows of numbers at once.
//!
//! A register holds a number for every lane: an instruction is looked up once for all of them, and the plain ones work on
//! several lanes at a time. Lanes whose ways part go on as groups. Always the group that is furthest behind goes on, so that
//! groups meet again where their ways do. Every lane comes to what a run for it alone comes to, to the last bit.

use super::program::{Kind, Op, Program};
use super::run::{apply, finite};
use crate::quantity::close;
use crate::script::limits;

/// Rows that are worked out at once: so many that looking up an instruction hardly counts, and so few that the registers of
/// a usual program stay in the memory next to the processor.
pub const LANES: usize = 32;

/// A register: one number for each lane.
pub(super) type Row = [f64; LANES];

/// Some lanes: a bit for each.
type Group = u32;

const ALL: Group = Group::MAX;

impl Program {
    /// Runs all lanes; gives of each the number of its result, if it comes to one.
    pub fn run_abreast(&self, rows: &mut [Row]) -> [Option<u16>; LANES] {
        let mut run = Run {
            program: self,
            rows,
            waiting: vec![(0, ALL)],
            came: [None; LANES],
            alone: Vec::new(),
            left: limits::OPERATIONS,
        };
        while let Some((at, group)) = run.furthest_behind() {
            run.go(at, group);
        }
        run.came
    }
}

struct Run<'a> {
    program: &'a Program,
    rows: &'a mut [Row],
    /// Groups, each with the instruction where it waits.
    waiting: Vec<(usize, Group)>,
    came: [Option<u16>; LANES],
    /// Room for one lane, for what can't be done abreast.
    alone: Vec<f64>,
    left: u64,
}

impl Run<'_> {
    fn furthest_behind(&mut self) -> Option<(usize, Group)> {
        let at = self.waiting.iter().map(|(at, _)| *at).min()?;
        let group = self.waiting.iter().filter(|one| one.0 == at).fold(0, |all, (_, group)| all | group);
        self.waiting.retain(|one| one.0 != at);
        Some((at, group))
    }

    /// Goes on with a group until it has to wait for others, or all of it have come to an end.
    fn go(&mut self, mut at: usize, mut group: Group) {
        while group != 0 {
            if self.waiting.iter().any(|(other, _)| *other <= at) {
                self.waiting.push((at, group));
                return;
            }
            let Some(op) = self.program.quick.ops.get(at) else { return };
            at += 1;
            match *op {
                Op::Move { to, a } => self.each(group, to, a, |a| a),
                Op::Negate { to, a } => self.each(group, to, a, |a| -a),
                Op::Add { to, a, b } => self.both(group, to, a, b, |a, b| a + b),
                Op::Sub { to, a, b } => self.both(group, to, a, b, |a, b| a - b),
                Op::Mul { to, a, b } => self.both(group, to, a, b, |a, b| a * b),
                Op::Div { to, a, b } => self.both(group, to, a, b, |a, b| a / b),
                Op::Exp { to, a } => {
                    group &= self.finite(a);
                    self.each(group, to, a, f64::exp);
                }
                Op::Do { kind, to, a, b } => {
                    // Each named by itself, so that the lanes are gone through inside of the choice and not around it.
                    match kind {
                        Kind::Add => self.done(Kind::Add, group, to, a, b),
                        Kind::Sub => self.done(Kind::Sub, group, to, a, b),
                        Kind::Mul => self.done(Kind::Mul, group, to, a, b),
                        Kind::Div => self.done(Kind::Div, group, to, a, b),
                        Kind::Minus => self.done(Kind::Minus, group, to, a, b),
                        Kind::Root => self.done(Kind::Root, group, to, a, b),
                        Kind::Exp => self.done(Kind::Exp, group, to, a, b),
                        Kind::WholeAdd => self.done(Kind::WholeAdd, group, to, a, b),
                        Kind::WholeSub => self.done(Kind::WholeSub, group, to, a, b),
                        Kind::WholeMul => self.done(Kind::WholeMul, group, to, a, b),
                        _ => self.done(kind, group, to, a, b),
                    }
                    group &= self.finite(to);
                }
                Op::In { unit, to, a } => {
                    let unit = &self.program.units[usize::from(unit)];
                    self.each(group, to, a, |a| unit.from_si(a));
                    group &= self.finite(to);
                }
                Op::Jump { to } => at = to as usize,
                Op::JumpIf { truth, to } => {
                    let jumps = self.holds(truth, truth, |truth, _| truth != 0.0);
                    self.part(&mut group, &mut at, jumps, to as usize);
                }
                Op::JumpUnless { truth, to } => {
                    let jumps = self.holds(truth, truth, |truth, _| truth == 0.0);
                    self.part(&mut group, &mut at, jumps, to as usize);
                }
                Op::If { kind, a, b, to } => {
                    let jumps = self.compared(kind, a, b);
                    self.part(&mut group, &mut at, jumps, usize::from(to));
                }
                Op::Unless { kind, a, b, to } => {
                    let jumps = !self.compared(kind, a, b);
                    self.part(&mut group, &mut at, jumps, usize::from(to));
                }
                Op::Back { to } => {
                    let length = at as u64 - u64::from(to);
                    let Some(left) = self.left.checked_sub(length) else { return };
                    (self.left, at) = (left, to as usize);
                }
                Op::Call { part } => group = self.call(part, group),
                Op::Finish { result } => {
                    lanes(group).for_each(|lane| self.came[lane] = Some(result));
                    return;
                }
                Op::Refuse | Op::Leave { .. } | Op::Done { .. } => return,
            }
        }
    }

    /// What ends a run leaves something that is no number.
    #[inline(always)]
    fn done(&mut self, kind: Kind, group: Group, to: u16, a: u16, b: u16) {
        self.both(group, to, a, b, |a, b| apply(kind, a, b).unwrap_or(f64::NAN));
    }

    fn each(&mut self, group: Group, to: u16, a: u16, make: impl Fn(f64) -> f64) {
        self.both(group, to, a, a, |a, _| make(a));
    }

    fn both(&mut self, group: Group, to: u16, a: u16, b: u16, make: impl Fn(f64, f64) -> f64) {
        let (a, b) = (self.rows[usize::from(a)], self.rows[usize::from(b)]);
        let to = &mut self.rows[usize::from(to)];
        if group == ALL {
            (0..LANES).for_each(|lane| to[lane] = make(a[lane], b[lane]));
        } else {
            lanes(group).for_each(|lane| to[lane] = make(a[lane], b[lane]));
        }
    }

    /// The lanes in which a register holds a number.
    fn finite(&self, register: u16) -> Group {
        let row = &self.rows[usize::from(register)];
        if row.iter().fold(true, |all, number| all & number.is_finite()) {
            return ALL;
        }
        self.holds(register, register, |number, _| finite(number).is_ok())
    }

    fn compared(&self, kind: Kind, a: u16, b: u16) -> Group {
        match kind {
            Kind::WholeLess => self.holds(a, b, |a, b| a < b),
            Kind::WholeLessEqual => self.holds(a, b, |a, b| a <= b),
            Kind::WholeEqual => self.holds(a, b, |a, b| a == b),
            Kind::Less => self.holds(a, b, |a, b| a < b && !close(a, b)),
            Kind::LessEqual => self.holds(a, b, |a, b| a < b || close(a, b)),
            _ => self.holds(a, b, |a, b| apply(kind, a, b) == Ok(1.0)),
        }
    }

    fn holds(&self, a: u16, b: u16, is: impl Fn(f64, f64) -> bool) -> Group {
        let (a, b) = (&self.rows[usize::from(a)], &self.rows[usize::from(b)]);
        (0..LANES).fold(0, |group, lane| group | Group::from(is(a[lane], b[lane])) << lane)
    }

    /// Some go on elsewhere.
    fn part(&mut self, group: &mut Group, at: &mut usize, jumps: Group, to: usize) {
        let (jump, stay) = (*group & jumps, *group & !jumps);
        if stay == 0 {
            *at = to;
        } else if jump != 0 {
            self.waiting.push((to, jump));
            *group = stay;
        }
    }

    /// Each lane by itself; gives those that go on.
    fn call(&mut self, part: u16, group: Group) -> Group {
        let program = self.program;
        if self.alone.is_empty() {
            self.alone = program.room();
        }
        let mut goes_on = 0;
        for lane in lanes(group) {
            for (alone, row) in self.alone.iter_mut().zip(self.rows.iter()) {
                *alone = row[lane];
            }
            if program.call(&program.quick, part, &mut self.alone, &mut self.left).is_ok() {
                for to in program.parts[usize::from(part)].to() {
                    self.rows[usize::from(to)][lane] = self.alone[usize::from(to)];
                }
                goes_on |= 1 << lane;
            }
        }
        goes_on
    }
}

fn lanes(group: Group) -> impl Iterator<Item = usize> {
    (0..LANES).filter(move |lane| group >> lane & 1 == 1)
}
