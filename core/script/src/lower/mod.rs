//! Scripts lowered to a register program over numbers.
//!
//! The interpreter says what a script means. For inputs of a known shape, its arithmetic is lowered here to a list of
//! instructions over numbers in base units, with dimensions, units and names settled beforehand. Whatever a program can't
//! do or would refuse, the interpreter does over again from the start: scripts are guests without effects, so that nobody
//! can tell but by the time it takes. Every message is therefore the interpreter's own.

mod arithmetic;
mod assign;
mod body;
mod budget;
mod cache;
mod calls;
mod code;
mod condition;
mod dump;
mod expr;
mod flat;
mod functions;
mod homes;
mod lists;
mod look;
mod program;
mod run;
mod settle;
mod shape;
mod stmt;
mod value;
mod ways;

use std::collections::HashMap;
use std::rc::Rc;

use rhai::{AST, ImmutableString, Position};

use super::library::Compiled;
use super::scripts::Scripts;
use super::text::Text;
pub(super) use body::Bodies;
use body::Body;
use code::{Moves, Node};
use program::{At, Kind, Program, Reason, WrittenAs};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::{DimensionFault, Name, Units};
use value::{Term, Val};
use ways::{Join, State, Var};

pub(super) use cache::Cache;
pub use cache::{HandedOver, Lowered, Way};
pub use condition::Condition;
pub use flat::Flat;
pub use look::{Declared, Promised, WARNINGS};

/// Instructions that a program may grow to; inlining and unrolling end here.
const LONGEST: usize = 20_000;
/// Calls that are inlined: functions that call themselves twice would never end.
const CALLS: usize = 2_000;
/// As the interpreter's limit of calls.
const DEEPEST: usize = super::limits::CALL_LEVELS;

/// An operation on two numbers.
type Done = (Kind, (bool, u64), (bool, u64));

/// What functions, variables and constants belong to.
#[derive(Clone)]
enum Home {
    File(usize, Rc<Compiled>),
    Expression(Rc<(AST, Bodies)>),
}

impl Home {
    fn ast(&self) -> &AST {
        match self {
            Home::File(_, compiled) => &compiled.ast,
            Home::Expression(of) => &of.0,
        }
    }

    fn file(&self) -> usize {
        match self {
            Home::File(file, _) => *file,
            Home::Expression(_) => usize::MAX,
        }
    }

    fn function(&self, name: &ImmutableString, arity: usize) -> Option<Rc<Body>> {
        match self {
            Home::File(_, compiled) => compiled.bodies.find(&compiled.ast, name, arity),
            Home::Expression(of) => of.1.find(&of.0, name, arity),
        }
    }
}

struct Lowering<'a> {
    scripts: &'a Scripts,
    units: &'a Units,
    /// The plugin whose sheet or expression it is, which decides what tables are in sight.
    plugin: &'a str,
    home: Home,
    /// Of the expression, if it is one.
    text: Option<&'a Text>,
    program: Program,
    code: Vec<Node>,
    emitted: usize,
    registers: usize,
    vars: Vec<Var>,
    state: State,
    /// Looks at what can't be lowered as well, for the sake of its dimensions.
    looking: bool,
    joins: Vec<Join>,
    moves: Moves,
    /// Results of operations that need not be repeated.
    known: HashMap<Done, Term>,
    /// What is known, in the order in which it came to be known, each with a count of such.
    log: Vec<(Done, u64)>,
    done: u64,
    texts: HashMap<ImmutableString, usize>,
    /// Of each written value, its unit and the number in it.
    written: Vec<(Name, Term)>,
    constants: HashMap<(usize, ImmutableString), Val>,
    depth: usize,
    loops: Vec<stmt::Around>,
    /// Where the function being inlined ends.
    frame: Option<usize>,
    /// What it may come to, and where.
    results: Vec<(Val, At)>,
    heads: usize,
    inlined: usize,
    /// Of what it may use up.
    spent: usize,
    exhausted: bool,
    longest_text: usize,
    /// Where records were last written out with a name, by file, and whether that hardly ever is a whole number.
    named: HashMap<(usize, ImmutableString), (Position, bool)>,
    problems: Problems,
}

impl<'a> Lowering<'a> {
    fn new(scripts: &'a Scripts, plugin: &'a str, home: Home) -> Self {
        Self {
            scripts,
            units: &scripts.run.units,
            plugin,
            home,
            text: None,
            program: Program::default(),
            code: Vec::new(),
            emitted: 0,
            registers: 0,
            vars: Vec::new(),
            state: State::Live,
            looking: false,
            joins: Vec::new(),
            moves: Moves::new(),
            known: HashMap::new(),
            log: Vec::new(),
            done: 0,
            texts: HashMap::new(),
            written: vec![("".into(), value::ZERO)],
            constants: HashMap::new(),
            depth: 0,
            loops: Vec::new(),
            frame: None,
            results: Vec::new(),
            heads: 0,
            inlined: 0,
            spent: 0,
            exhausted: false,
            longest_text: 0,
            named: HashMap::new(),
            problems: Vec::new(),
        }
    }

    fn register(&mut self) -> u16 {
        let register = self.registers;
        self.registers += 1;
        if register >= usize::from(u16::MAX) / 2 {
            self.give_up("it takes more numbers than a program has room for", Position::NONE);
            return 0;
        }
        register as u16
    }

    fn at(&self, position: Position) -> At {
        At { file: self.home.file(), position }
    }

    fn place(&self, at: At) -> Place {
        match (self.scripts.library.files.get(at.file), self.text) {
            (Some(file), _) => Text::File(file.source.clone()).place(at.position),
            (None, Some(text)) => text.place(at.position),
            (None, None) => Place::whole(&standpipe_diagnostic::source::Source::new("<call>", "")),
        }
    }

    fn emit(&mut self, node: Node) {
        if self.state != State::Live {
            return;
        }
        self.emitted += 1;
        self.code.push(node);
        if self.emitted >= LONGEST {
            self.give_up("it grows too long", Position::NONE);
        }
    }

    /// Whether there is no use in looking further.
    fn over(&self) -> bool {
        self.exhausted || self.state == State::Gone
    }

    /// The interpreter has to take over here.
    fn give_up(&mut self, what: impl Into<String>, position: Position) -> Val {
        let at = self.at(position);
        if self.state == State::Live {
            let why = self.program.reasons.len().min(usize::from(u16::MAX)) as u16;
            self.program.reasons.push(Reason { what: what.into(), at });
            self.code.push(Node::Leave { why, at });
        }
        self.stop();
        Val::Any
    }

    fn stop(&mut self) {
        self.state = match self.state {
            State::Gone => State::Gone,
            _ if self.looking => State::Shadow,
            _ => State::Gone,
        };
    }

    /// The interpreter will refuse here, whatever the numbers are.
    fn wrong(&mut self, code: Code, message: String, help: Option<String>, position: Position) -> Val {
        let at = self.at(position);
        // Kinds are certain, and names in the sheet's own function. One that several call asks what there is before it takes
        // it, in ways that only a run can follow.
        let is_certain = match code {
            Code::DimensionClash => true,
            Code::UnknownName => self.frame.is_none(),
            _ => false,
        };
        if self.looking && self.state != State::Gone && is_certain {
            let mut problem = Diagnostic::error(code, &self.place(at), message);
            problem.help = help;
            if !self.problems.iter().any(|known| known.place == problem.place) {
                self.problems.push(problem);
            }
        }
        self.emit(Node::Refuse(at));
        self.stop();
        Val::Any
    }

    fn clash(&mut self, fault: DimensionFault, message: String, literal: bool, position: Position) -> Val {
        // A suggestion with a number in it makes sense only if that number is written there.
        self.wrong(fault.code, message, fault.help.filter(|_| literal), position)
    }

    /// An operation; on settled numbers it is done at once, and what was done before is not repeated.
    fn op(&mut self, kind: Kind, a: Term, b: Term, position: Position) -> Term {
        if let (Term::Const(a), Term::Const(b)) = (a, b)
            && let Ok(result) = run::apply(kind, a, b)
        {
            return Term::Const(result);
        }
        // Times one and by one change no bit.
        if let (Kind::Mul | Kind::Div, Term::Const(1.0)) = (kind, b) {
            return a;
        }
        if let (Kind::Mul, Term::Const(1.0)) = (kind, a) {
            return b;
        }
        let key = (kind, a.key(), b.key());
        if let Some(known) = self.known.get(&key) {
            return *known;
        }
        let to = self.register();
        let at = self.at(position);
        self.emit(Node::Do { kind, to, a, b, at });
        if self.state == State::Live {
            self.known.insert(key, Term::Reg(to));
            self.done += 1;
            self.log.push((key, self.done));
        }
        Term::Reg(to)
    }

    fn one(&mut self, kind: Kind, a: Term, position: Position) -> Term {
        self.op(kind, a, value::ZERO, position)
    }

    fn text(&mut self, text: &str) -> Val {
        self.spend_text(text.len());
        self.longest_text = self.longest_text.max(text.len());
        let next = self.program.texts.len();
        let place = *self.texts.entry(text.into()).or_insert(next);
        if place == next {
            self.program.texts.push(text.to_owned());
        }
        Val::Text(Term::Const(place as f64))
    }

    /// Takes note of how a value was written.
    fn note_written(&mut self, unit: &Name, value: Term, how: WrittenAs) -> Term {
        self.written.push((*unit, value));
        self.program.written.push(how);
        Term::Const((self.written.len() - 1) as f64)
    }

    fn finish(mut self) -> (Program, Problems) {
        let nodes = std::mem::take(&mut self.code);
        // What lay behind the end of the budget was left out, so that nothing before it is sure either.
        if self.exhausted || code::lay_out(&mut self.program, &nodes, self.registers, &self.moves).is_none() {
            self.program = Program {
                reasons: vec![Reason {
                    what: "it grows too long".into(),
                    at: At { file: self.home.file(), position: Position::NONE },
                }],
                ..Program::default()
            };
        }
        (self.program, self.problems)
    }
}
