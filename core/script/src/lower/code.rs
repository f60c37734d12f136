//! Instructions while they come about, as a tree; laid out in a row at the end.

use std::collections::HashMap;

use super::program::{At, Kind, Op, Part, Program};
use super::value::Term;

pub(super) enum Node {
    Do {
        kind: Kind,
        to: u16,
        a: Term,
        b: Term,
        at: At,
    },
    In {
        unit: u16,
        to: u16,
        a: Term,
        at: At,
    },
    Between {
        keys: Vec<f64>,
        value: Term,
        columns: Vec<(Vec<f64>, u16)>,
        at: At,
    },
    Solve {
        low: Term,
        high: Term,
        x: u16,
        to: u16,
        body: Vec<Node>,
        value: Term,
        at: At,
    },
    If {
        truth: Term,
        then: Vec<Node>,
        other: Vec<Node>,
        at: At,
    },
    /// To where ways meet; the moves of this way are known once all have come.
    Jump {
        join: usize,
        site: usize,
        at: At,
    },
    Land {
        join: usize,
    },
    Loop {
        head: usize,
    },
    Again {
        head: usize,
        at: At,
    },
    Refuse(At),
    Leave {
        why: u16,
        at: At,
    },
    Finish {
        result: u16,
        at: At,
    },
}

/// Of each place where ways meet, what each way moves into the registers they share.
pub(super) type Moves = Vec<Vec<Vec<(u16, Term)>>>;

/// Lays the tree out. Gives nothing when it takes more registers or instructions than there are numbers for.
pub(super) fn lay_out(program: &mut Program, nodes: &[Node], registers: usize, moves: &Moves) -> Option<()> {
    program.registers = registers;
    let mut layout =
        Layout { program, moves, constants: HashMap::new(), labels: HashMap::new(), heads: HashMap::new() };
    layout.all(nodes)?;
    let Layout { labels, .. } = layout;
    for op in &mut program.code.ops {
        if let Op::Jump { to } | Op::JumpIf { to, .. } | Op::JumpUnless { to, .. } = op
            && *to >= LABEL
        {
            *to = *labels.get(&(*to - LABEL))?;
        }
    }
    (program.registers + program.constants.len() < usize::from(u16::MAX)).then_some(())
}

/// Targets from here on stand for places not known yet.
const LABEL: u32 = 1 << 30;

struct Layout<'a> {
    program: &'a mut Program,
    moves: &'a Moves,
    constants: HashMap<u64, u16>,
    /// Of each join, its instruction.
    labels: HashMap<u32, u32>,
    heads: HashMap<usize, u32>,
}

impl Layout<'_> {
    fn term(&mut self, term: Term) -> Option<u16> {
        match term {
            Term::Reg(register) => Some(register),
            Term::Const(number) => match self.constants.get(&number.to_bits()) {
                Some(known) => Some(*known),
                None => {
                    let place = u16::try_from(self.program.registers + self.program.constants.len()).ok()?;
                    self.program.constants.push(number);
                    self.constants.insert(number.to_bits(), place);
                    Some(place)
                }
            },
        }
    }

    fn push(&mut self, op: Op, at: At) {
        self.program.code.ops.push(op);
        self.program.code.places.push(at);
    }

    fn here(&self) -> u32 {
        self.program.code.ops.len() as u32
    }

    fn part(&mut self, part: Part, start: u32, at: At) -> Option<()> {
        let number = u16::try_from(self.program.parts.len()).ok()?;
        self.program.parts.push(part);
        self.program.code.starts.push(start);
        self.push(Op::Call { part: number }, at);
        Some(())
    }

    fn all(&mut self, nodes: &[Node]) -> Option<()> {
        for (index, node) in nodes.iter().enumerate() {
            // A jump to what comes next is none.
            let next = match nodes.get(index + 1) {
                Some(Node::Land { join }) => Some(*join),
                _ => None,
            };
            self.one(node, next)?;
        }
        Some(())
    }

    fn one(&mut self, node: &Node, next: Option<usize>) -> Option<()> {
        match node {
            Node::Do { kind, to, a, b, at } => {
                let (a, b) = (self.term(*a)?, self.term(*b)?);
                self.push(Op::Do { kind: *kind, to: *to, a, b }, *at);
            }
            Node::In { unit, to, a, at } => {
                let a = self.term(*a)?;
                self.push(Op::In { unit: *unit, to: *to, a }, *at);
            }
            Node::Between { keys, value, columns, at } => {
                let value = self.term(*value)?;
                self.part(Part::Between { keys: keys.clone(), at: value, columns: columns.clone() }, 0, *at)?;
            }
            Node::Solve { low, high, x, to, body, value, at } => {
                let (low, high) = (self.term(*low)?, self.term(*high)?);
                let over = self.here();
                self.push(Op::Jump { to: 0 }, *at);
                let start = self.here();
                self.all(body)?;
                let value = self.term(*value)?;
                self.push(Op::Done { value }, *at);
                let after = self.here();
                self.program.code.ops[over as usize] = Op::Jump { to: after };
                self.part(Part::Solve { low, high, x: *x, to: *to }, start, *at)?;
            }
            Node::If { truth, then, other, at } => self.branch(*truth, then, other, next, *at)?,
            Node::Jump { join, site, at } => {
                for (to, from) in &self.moves[*join][*site] {
                    let a = self.term(*from)?;
                    self.push(Op::Do { kind: Kind::Move, to: *to, a, b: a }, *at);
                }
                if next != Some(*join) {
                    self.push(Op::Jump { to: LABEL + *join as u32 }, *at);
                }
            }
            Node::Land { join } => {
                let here = self.here();
                self.labels.insert(*join as u32, here);
            }
            Node::Loop { head } => {
                let here = self.here();
                self.heads.insert(*head, here);
            }
            Node::Again { head, at } => {
                let to = *self.heads.get(head)?;
                self.push(Op::Back { to }, *at);
            }
            Node::Refuse(at) => self.push(Op::Refuse, *at),
            Node::Leave { why, at } => self.push(Op::Leave { why: *why }, *at),
            Node::Finish { result, at } => self.push(Op::Finish { result: *result }, *at),
        }
        Some(())
    }

    fn branch(&mut self, truth: Term, then: &[Node], other: &[Node], next: Option<usize>, at: At) -> Option<()> {
        let truth = self.term(truth)?;
        let over = self.here();
        if then.is_empty() {
            self.push(Op::JumpIf { truth, to: 0 }, at);
            self.ways(other, next)?;
            let to = self.here();
            self.program.code.ops[over as usize] = Op::JumpIf { truth, to };
            return Some(());
        }
        self.push(Op::JumpUnless { truth, to: 0 }, at);
        self.ways(then, if other.is_empty() { next } else { None })?;
        let leaves = matches!(then.last(), Some(node) if node.diverts());
        let out = self.here();
        if !leaves && !other.is_empty() {
            self.push(Op::Jump { to: 0 }, at);
        }
        let to = self.here();
        self.program.code.ops[over as usize] = Op::JumpUnless { truth, to };
        self.ways(other, next)?;
        if !leaves && !other.is_empty() {
            let to = self.here();
            self.program.code.ops[out as usize] = Op::Jump { to };
        }
        Some(())
    }

    /// A branch, whose last jump may lead to what follows the `if`.
    fn ways(&mut self, nodes: &[Node], next: Option<usize>) -> Option<()> {
        let Some((last, rest)) = nodes.split_last() else { return Some(()) };
        for (index, node) in rest.iter().enumerate() {
            let after = match nodes.get(index + 1) {
                Some(Node::Land { join }) => Some(*join),
                _ => None,
            };
            self.one(node, after)?;
        }
        self.one(last, next)
    }
}

impl Node {
    fn diverts(&self) -> bool {
        match self {
            Node::Jump { .. } | Node::Again { .. } | Node::Refuse(_) | Node::Leave { .. } | Node::Finish { .. } => true,
            Node::If { then, other, .. } => {
                [then, other].into_iter().all(|nodes| nodes.last().is_some_and(Node::diverts))
            }
            _ => false,
        }
    }
}
