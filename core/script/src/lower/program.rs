//! The machine's instructions. Registers hold numbers in base units, truths as 0 and 1, texts as places in a list.

use rhai::Position;

use super::value::Val;
use standpipe_quantity::{Unit, Written};

/// What is done with one or two numbers. Each does just what the interpreted operator or function does, with the same
/// primitive, and ends the program where that would refuse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Kind {
    /// No check: a value is handed on.
    Move,
    Add,
    Sub,
    Mul,
    Div,
    Rem,
    /// Of whole numbers; a result that is none any more ends the program.
    WholeAdd,
    WholeSub,
    WholeMul,
    WholeRem,
    WholePow,
    /// The sign turned, of zero too; 0 - x, which leaves zero without a sign.
    Negate,
    Minus,
    Pow,
    PowWhole,
    Root,
    RootOf,
    Exp,
    Ln,
    Log10,
    Sin,
    Cos,
    Tan,
    Atan,
    Abs,
    Floor,
    Ceil,
    Round,
    RoundTo,
    /// A number that is whole already.
    AsWhole,
    /// Equal within 1e-12; the others follow from it.
    Less,
    LessEqual,
    Equal,
    /// Of whole numbers, truths and texts, and beside zero, to which nothing else is close.
    WholeLess,
    WholeLessEqual,
    WholeEqual,
    Not,
}

/// One instruction: 8 bytes.
#[derive(Clone, Copy, Debug)]
pub(super) enum Op {
    /// Ends the program if what comes of it is not finite.
    Do {
        kind: Kind,
        to: u16,
        a: u16,
        b: u16,
    },
    /// These do not look at what comes of them: it was looked at before, or will be.
    Move {
        to: u16,
        a: u16,
    },
    Negate {
        to: u16,
        a: u16,
    },
    Add {
        to: u16,
        a: u16,
        b: u16,
    },
    Sub {
        to: u16,
        a: u16,
        b: u16,
    },
    Mul {
        to: u16,
        a: u16,
        b: u16,
    },
    Div {
        to: u16,
        a: u16,
        b: u16,
    },
    /// Of something that is looked at: an infinity may come of it, but must not get lost in it.
    Exp {
        to: u16,
        a: u16,
    },
    Jump {
        to: u32,
    },
    JumpIf {
        truth: u16,
        to: u32,
    },
    JumpUnless {
        truth: u16,
        to: u32,
    },
    /// Compares and jumps.
    If {
        kind: Kind,
        a: u16,
        b: u16,
        to: u16,
    },
    Unless {
        kind: Kind,
        a: u16,
        b: u16,
        to: u16,
    },
    /// Goes back in a loop of so many instructions.
    Back {
        to: u32,
    },
    /// The number of a quantity in a unit.
    In {
        unit: u16,
        to: u16,
        a: u16,
    },
    /// Works on several registers at once.
    Call {
        part: u16,
    },
    /// The interpreter refuses here too.
    Refuse,
    /// What comes now only the interpreter can do.
    Leave {
        why: u16,
    },
    /// The result is the one of this number.
    Finish {
        result: u16,
    },
    /// End of the function that is solved for.
    Done {
        value: u16,
    },
}

/// Work that takes more than two numbers.
#[derive(Debug)]
pub(super) enum Part {
    /// A row of a table, or something between two: the place found, and the share of the way to the next.
    Between { keys: Vec<f64>, at: u16, columns: Vec<(Vec<f64>, u16)> },
    /// Where a function is zero; it is a stretch of the program.
    Solve { low: u16, high: u16, x: u16, to: u16 },
}

/// Where in the files an instruction comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct At {
    pub file: usize,
    pub position: Position,
}

/// Why the interpreter has to take over.
#[derive(Clone, Debug)]
pub(super) struct Reason {
    pub what: String,
    pub at: At,
}

/// How a value was written.
#[derive(Clone, Debug)]
pub(super) enum WrittenAs {
    Settled(Written),
    /// That of an input with this number.
    Input(usize),
}

#[derive(Clone, Debug, Default)]
pub(super) struct Code {
    pub ops: Vec<Op>,
    /// One for each instruction.
    pub places: Vec<At>,
    /// One for each part: where the function that it solves for begins.
    pub starts: Vec<u32>,
}

#[derive(Debug, Default)]
pub(super) struct Program {
    /// Step by step as the script: it shows where something is refused.
    pub code: Code,
    /// What is run first; the same in fewer steps.
    pub quick: Code,
    pub parts: Vec<Part>,
    pub units: Vec<Unit>,
    pub registers: usize,
    /// Lie behind the registers.
    pub constants: Vec<f64>,
    pub results: Vec<Val>,
    pub texts: Vec<String>,
    pub written: Vec<WrittenAs>,
    pub reasons: Vec<Reason>,
}

impl Program {
    /// Whether the first thing it does is to give up: no way leads to a result.
    pub fn is_hollow(&self) -> bool {
        !self.code.ops.iter().any(|op| matches!(op, Op::Finish { .. } | Op::Refuse))
    }
}

impl Op {
    /// Where an instruction may go on other than with the next one.
    pub fn target(&self) -> Option<u32> {
        match *self {
            Op::Jump { to } | Op::JumpIf { to, .. } | Op::JumpUnless { to, .. } | Op::Back { to } => Some(to),
            Op::If { to, .. } | Op::Unless { to, .. } => Some(u32::from(to)),
            _ => None,
        }
    }

    /// The one register that it writes; parts write others.
    pub fn to(&mut self) -> Option<&mut u16> {
        match self {
            Op::Do { to, .. } | Op::In { to, .. } | Op::Move { to, .. } | Op::Negate { to, .. } => Some(to),
            Op::Add { to, .. } | Op::Sub { to, .. } | Op::Mul { to, .. } | Op::Div { to, .. } => Some(to),
            Op::Exp { to, .. } => Some(to),
            _ => None,
        }
    }

    /// The registers that it reads; parts read others.
    pub fn from(&self) -> [Option<u16>; 2] {
        match *self {
            Op::Do { a, b, .. } | Op::If { a, b, .. } | Op::Unless { a, b, .. } => [Some(a), Some(b)],
            Op::Add { a, b, .. } | Op::Sub { a, b, .. } | Op::Mul { a, b, .. } => [Some(a), Some(b)],
            Op::Div { a, b, .. } => [Some(a), Some(b)],
            Op::In { a, .. } | Op::Move { a, .. } | Op::Negate { a, .. } | Op::Exp { a, .. } => [Some(a), None],
            Op::JumpIf { truth, .. } | Op::JumpUnless { truth, .. } => [Some(truth), None],
            Op::Done { value } => [Some(value), None],
            Op::Jump { .. } | Op::Back { .. } | Op::Call { .. } | Op::Refuse | Op::Leave { .. } | Op::Finish { .. } => {
                [None, None]
            }
        }
    }
}

impl Part {
    pub fn from(&self) -> [Option<u16>; 2] {
        match self {
            Part::Between { at, .. } => [Some(*at), None],
            Part::Solve { low, high, .. } => [Some(*low), Some(*high)],
        }
    }

    pub fn to(&self) -> Vec<u16> {
        match self {
            Part::Between { columns, .. } => columns.iter().map(|(_, to)| *to).collect(),
            Part::Solve { x, to, .. } => vec![*x, *to],
        }
    }
}
