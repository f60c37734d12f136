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
    pub code: Code,
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
