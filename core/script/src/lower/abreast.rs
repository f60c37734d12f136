//! A program over many rows of numbers at once.
//!
//! A register holds a number for every lane: an instruction is looked up once for all of them, and the plain ones work on
//! several lanes at a time. Lanes whose ways part go on as groups. Always the group that is furthest behind goes on, so that
//! groups meet again where their ways do. Every lane comes to what a run for it alone comes to, to the last bit.

use super::program::{Kind, Op, Part, Program};
use super::run::{apply, read_between};
use crate::limits;
use standpipe_quantity::close;

/// Rows that are worked out at once: so many that looking up an instruction hardly counts, and so few that the registers of
/// a usual program stay in the memory next to the processor.
pub const LANES: usize = 32;

/// A register: one number for each lane.
pub(super) type Row = [f64; LANES];

/// Some lanes: a bit for each.
pub(super) type Group = u32;

const ALL: Group = Group::MAX;

/// So many lanes are read, worked on and written before the next ones: the compiler then sees that what is written is
/// nothing that is still to be read, and works on several at a time.
const STRIDE: usize = 8;

/// The registers of all lanes, and what a run keeps beside them.
#[derive(Clone, Debug)]
pub(super) struct Lanes {
    pub rows: Vec<Row>,
    /// Groups, each with the instruction where it waits.
    waiting: Vec<(usize, Group)>,
}

impl Lanes {
    /// With the same numbers in every lane.
    pub fn new(room: &[f64]) -> Self {
        Self { rows: room.iter().map(|number| [*number; LANES]).collect(), waiting: Vec::new() }
    }
}

impl Program {
    /// Runs all lanes; gives of each the number of its result, if it comes to one.
    pub fn run_abreast(&self, lanes: &mut Lanes) -> [Option<u16>; LANES] {
        let Lanes { rows, waiting } = lanes;
        waiting.clear();
        let (came, ended, values) = ([None; LANES], 0, [0.0; LANES]);
        let left = limits::OPERATIONS;
        let mut run = Run { program: self, rows, waiting, came, free: 0, ended, values, left };
        run.go_all(0, ALL);
        run.came
    }
}

pub(super) struct Run<'a> {
    pub program: &'a Program,
    pub rows: &'a mut [Row],
    waiting: &'a mut Vec<(usize, Group)>,
    came: [Option<u16>; LANES],
    /// Lanes whose registers nobody will read: what is written there does no harm.
    pub free: Group,
    /// Lanes that came to the end of the function that is solved for, and its values.
    ended: Group,
    pub values: Row,
    left: u64,
}

impl Run<'_> {
    /// Until every lane of a group has come to an end.
    fn go_all(&mut self, at: usize, group: Group) {
        self.go(at, group);
        while let Some((at, group)) = self.furthest_behind() {
            self.go(at, group);
        }
    }

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
            let Some(op) = self.program.quick.ops.get(at) else { break };
            at += 1;
            match *op {
                Op::Move { to, a } => self.plainly(group, to, a, a, |a, _| a),
                Op::Negate { to, a } => self.plainly(group, to, a, a, |a, _| -a),
                Op::Add { to, a, b } => self.plainly(group, to, a, b, |a, b| a + b),
                Op::Sub { to, a, b } => self.plainly(group, to, a, b, |a, b| a - b),
                Op::Mul { to, a, b } => self.plainly(group, to, a, b, |a, b| a * b),
                Op::Div { to, a, b } => self.plainly(group, to, a, b, |a, b| a / b),
                Op::Exp { to, a } => {
                    group = self.finite(group, a);
                    self.one_by_one(group, to, a, a, |a, _| a.exp());
                }
                Op::Do { kind, to, a, b } => {
                    self.done(kind, group, to, a, b);
                    group = self.finite(group, to);
                }
                Op::In { unit, to, a } => {
                    let unit = &self.program.units[usize::from(unit)];
                    self.plainly(group, to, a, a, |a, _| unit.from_si(a));
                    group = self.finite(group, to);
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
                    let Some(left) = self.left.checked_sub(length) else { break };
                    (self.left, at) = (left, to as usize);
                }
                Op::Call { part } => group = self.call(part, group),
                Op::Finish { result } => {
                    lanes(group).for_each(|lane| self.came[lane] = Some(result));
                    return;
                }
                Op::Done { value } => {
                    self.ended |= group;
                    lanes(group).for_each(|lane| self.values[lane] = self.rows[usize::from(value)][lane]);
                    return;
                }
                Op::Refuse | Op::Leave { .. } => break,
            }
        }
        self.free |= group;
    }

    /// What ends a run leaves something that is no number.
    fn done(&mut self, kind: Kind, group: Group, to: u16, a: u16, b: u16) {
        // Each named by itself, so that the lanes are gone through inside of the choice and not around it.
        macro_rules! named {
            (plain: $($plain:ident)*; $($other:ident)*) => {
                match kind {
                    Kind::Add => self.plainly(group, to, a, b, |a, b| a + b),
                    Kind::Sub => self.plainly(group, to, a, b, |a, b| a - b),
                    Kind::Mul => self.plainly(group, to, a, b, |a, b| a * b),
                    // Nothing finite comes of a division by zero.
                    Kind::Div => self.plainly(group, to, a, b, |a, b| a / b),
                    $(Kind::$plain => {
                        self.plainly(group, to, a, b, |a, b| apply(Kind::$plain, a, b).unwrap_or(f64::NAN));
                    })*
                    $(Kind::$other => {
                        self.one_by_one(group, to, a, b, |a, b| apply(Kind::$other, a, b).unwrap_or(f64::NAN));
                    })*
                }
            };
        }
        named!(
            plain: Move Negate Minus Abs Root RootOf WholeAdd WholeSub WholeMul
                Less LessEqual Equal WholeLess WholeLessEqual WholeEqual Not;
            Rem WholeRem WholePow Pow PowWhole Exp Ln Log10 Sin Cos Tan Atan Floor Ceil Round RoundTo AsWhole
        );
    }

    /// What the processor does on several lanes in one step.
    fn plainly(&mut self, group: Group, to: u16, a: u16, b: u16, make: impl Fn(f64, f64) -> f64) {
        if group | self.free != ALL {
            return self.one_by_one(group, to, a, b, make);
        }
        let (to, a, b) = (usize::from(to), usize::from(a), usize::from(b));
        let rows = &mut *self.rows;
        for from in (0..LANES).step_by(STRIDE) {
            let made: [f64; STRIDE] = std::array::from_fn(|lane| make(rows[a][from + lane], rows[b][from + lane]));
            rows[to][from..from + STRIDE].copy_from_slice(&made);
        }
    }

    fn one_by_one(&mut self, group: Group, to: u16, a: u16, b: u16, make: impl Fn(f64, f64) -> f64) {
        let (to, a, b) = (usize::from(to), usize::from(a), usize::from(b));
        for lane in lanes(group) {
            self.rows[to][lane] = make(self.rows[a][lane], self.rows[b][lane]);
        }
    }

    /// The lanes of a group in which a register holds a number; the others are out.
    fn finite(&mut self, group: Group, register: u16) -> Group {
        self.keep(group, |run| run.holds(register, register, |number, _| number.is_finite()))
    }

    pub fn keep(&mut self, group: Group, which: impl Fn(&Self) -> Group) -> Group {
        let kept = group & which(self);
        self.free |= group & !kept;
        kept
    }

    fn compared(&self, kind: Kind, a: u16, b: u16) -> Group {
        match kind {
            Kind::WholeLess => self.holds(a, b, |a, b| a < b),
            Kind::WholeLessEqual => self.holds(a, b, |a, b| a <= b),
            Kind::WholeEqual => self.holds(a, b, |a, b| a == b),
            Kind::Less => self.holds(a, b, |a, b| (a < b) & !close(a, b)),
            Kind::LessEqual => self.holds(a, b, |a, b| (a < b) | close(a, b)),
            _ => self.holds(a, b, |a, b| apply(kind, a, b) == Ok(1.0)),
        }
    }

    /// The lanes for which something holds.
    pub fn holds(&self, a: u16, b: u16, is: impl Fn(f64, f64) -> bool) -> Group {
        let (a, b) = (&self.rows[usize::from(a)], &self.rows[usize::from(b)]);
        // Mostly for all of them, or none, and how many is counted in fewer steps than which.
        match (0..LANES).map(|lane| u64::from(is(a[lane], b[lane]))).sum::<u64>() {
            0 => 0,
            all if all == LANES as u64 => ALL,
            _ => (0..LANES).fold(0, |group, lane| group | Group::from(is(a[lane], b[lane])) << lane),
        }
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

    /// Gives the lanes that go on.
    #[cold]
    fn call(&mut self, part: u16, group: Group) -> Group {
        let program = self.program;
        match &program.parts[usize::from(part)] {
            Part::Between { keys, at, columns } => {
                let mut goes_on = 0;
                for lane in lanes(group) {
                    let at = self.rows[usize::from(*at)][lane];
                    let read = read_between(keys, columns, at, |to, number| self.rows[usize::from(to)][lane] = number);
                    goes_on |= Group::from(read.is_ok()) << lane;
                }
                self.keep(group, |_| goes_on)
            }
            Part::Solve { low, high, x, to } => {
                let start = program.quick.starts[usize::from(part)];
                self.solve(start as usize, (*low, *high), *x, *to, group)
            }
        }
    }

    /// Works out the function that is solved for; gives the lanes that came to its end, where [`Self::values`] holds for them.
    pub fn value(&mut self, start: usize, group: Group) -> Group {
        let Some(left) = self.left.checked_sub(16) else { return self.keep(group, |_| 0) };
        self.left = left;
        // Those that wait outside wait on; those that are through inside of it, where a function solves for a zero itself, too.
        let waiting = std::mem::take(self.waiting);
        let ended = std::mem::take(&mut self.ended);
        let values = self.values;
        self.go_all(start, group);
        *self.waiting = waiting;
        let came = std::mem::replace(&mut self.ended, ended);
        for lane in lanes(ended) {
            self.values[lane] = values[lane];
        }
        came
    }
}

pub(super) fn lanes(mut group: Group) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let lane = (group != 0).then_some(group.trailing_zeros() as usize);
        // The lowest bit that is set.
        group &= group.wrapping_sub(1);
        lane
    })
}
