//! Where programs are made, kept and run; nothing else of the tool knows that there are any.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;
use std::sync::atomic::{AtomicU8, Ordering};

use indexmap::IndexMap;
use rhai::{AST, Position};

use super::flat::Met;
use super::program::{At, Op, Program};
use super::run::End;
use super::shape::Given;
use super::value::{Slot, Val};
use super::ways::Var;
use super::{Home, Lowering};
use crate::scripts::{Scripts, split};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_quantity::Written;
use standpipe_quantity::value::Value;

/// How calls of functions are worked out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Way {
    /// By the interpreter alone.
    Interpreted,
    /// By programs, from the second call of a function onwards: for one alone they are not worth making.
    #[default]
    Auto,
    /// By programs from the first call onwards.
    Lowered,
}

/// What scripts made from now on do, as the command line says once at the start.
static CHOSEN: AtomicU8 = AtomicU8::new(Way::Auto as u8);

impl Way {
    pub fn choose(self) {
        CHOSEN.store(self as u8, Ordering::Relaxed);
    }

    fn chosen() -> Self {
        let chosen = CHOSEN.load(Ordering::Relaxed);
        [Self::Interpreted, Self::Lowered].into_iter().find(|way| *way as u8 == chosen).unwrap_or_default()
    }
}

/// Of one function, programs for as many shapes of inputs; beyond that the interpreter does the rest.
pub(super) const SHAPES: usize = 64;

pub(crate) struct Cache {
    pub(super) settled: RefCell<HashMap<(String, usize), Rc<AST>>>,
    way: Cell<Way>,
    calls: RefCell<HashMap<String, HashMap<String, Rc<Calls>>>>,
    pub(super) met: Met,
}

impl Default for Cache {
    fn default() -> Self {
        Self {
            settled: RefCell::default(),
            way: Cell::new(Way::chosen()),
            calls: RefCell::default(),
            met: Met::default(),
        }
    }
}

impl Cache {
    pub(super) fn makes_programs(&self) -> bool {
        self.way.get() != Way::Interpreted
    }
}

#[derive(Default)]
struct Calls {
    count: Cell<u64>,
    programs: RefCell<Vec<Rc<Lowered>>>,
}

/// A function lowered for inputs of one shape.
pub struct Lowered {
    pub(super) program: Program,
    pub(super) given: Vec<(String, Given)>,
    pub(super) room: RefCell<Vec<f64>>,
    pub(super) files: Vec<std::sync::Arc<Source>>,
}

impl Scripts {
    pub fn set_way(&self, way: Way) {
        self.lowered.way.set(way);
    }

    pub fn way(&self) -> Way {
        self.lowered.way.get()
    }

    /// The function as a program for inputs of the shape of these; `None` where one of them is not known.
    pub fn lower_call(&self, plugin: &str, function: &str, inputs: &IndexMap<String, Value>) -> Option<Lowered> {
        let nowhere = Place::whole(&Source::new("<call>", ""));
        let (script, name) = split(function, &nowhere).ok()?;
        let file = self.library.find(plugin, script, &nowhere).ok()?;
        let compiled = self.file(file, &nowhere).ok()?;
        let home = Home::File(file, compiled);
        let defined = home.function(&name.into(), 1).filter(|one| one.public)?;
        self.run.tables.called_by(plugin);
        let mut lowering = Lowering::new(self, plugin, home);
        let mut given = Vec::new();
        let mut fields = Vec::new();
        for (name, value) in inputs {
            let (one, val) = lowering.given(value)?;
            given.push((name.clone(), one));
            fields.push((name.as_str().into(), Slot::new(val)));
        }
        lowering.vars.push(Var { name: defined.params[0].clone(), val: Val::record(fields) });
        let val = lowering.statements(&defined.stmts);
        let at = At { file, position: defined.end };
        lowering.result(&val, at);
        let (program, _) = lowering.finish();
        Some(Lowered::new(program, given, self))
    }

    /// What a call comes to by a program; `None` where there is none, or wit can't go on here and the interpreter has to.
    pub(crate) fn call_lowered(&self, plugin: &str, function: &str, inputs: &IndexMap<String, Value>) -> Option<Value> {
        if !self.lowered.makes_programs() {
            return None;
        }
        let known = self.lowered.calls.borrow().get(plugin).and_then(|of| of.get(function)).cloned();
        let calls = known.unwrap_or_else(|| {
            let calls = Rc::new(Calls::default());
            let mut all = self.lowered.calls.borrow_mut();
            all.entry(plugin.to_owned()).or_default().insert(function.to_owned(), calls.clone());
            calls
        });
        let count = calls.count.get() + 1;
        calls.count.set(count);
        if let Some(ended) = calls.programs.borrow().iter().find_map(|program| program.attempt(inputs)) {
            return ended?.ok();
        }
        if (count == 1 && self.lowered.way.get() == Way::Auto) || calls.programs.borrow().len() >= SHAPES {
            return None;
        }
        // Programs may call for others while they are made.
        let program = Rc::new(self.lower_call(plugin, function, inputs)?);
        calls.programs.borrow_mut().push(program.clone());
        program.run(inputs)?.ok()
    }
}

/// Where a program handed over to the interpreter.
#[derive(Clone, Debug)]
pub struct HandedOver {
    /// The interpreter refuses there too, as far as the program can tell.
    pub refuses: bool,
    pub place: Place,
}

impl Lowered {
    pub(super) fn new(program: Program, given: Vec<(String, Given)>, scripts: &Scripts) -> Self {
        let room = RefCell::new(program.room());
        let files = scripts.library.files.iter().map(|file| file.source.clone()).collect();
        Self { program, given, room, files }
    }

    /// Runs it. Nothing comes of inputs of another shape, or of a program that only gives up.
    pub fn run(&self, inputs: &IndexMap<String, Value>) -> Option<Result<Value, HandedOver>> {
        self.attempt(inputs)?
    }

    /// The same; the outer `None` says that the inputs are of another shape.
    fn attempt(&self, inputs: &IndexMap<String, Value>) -> Option<Option<Result<Value, HandedOver>>> {
        let mut room = self.room.borrow_mut();
        let mut written: Vec<&Written> = Vec::new();
        if !Given::load_fields(&self.given, inputs, &mut room, &mut written) {
            return None;
        }
        if self.program.is_hollow() {
            return Some(None);
        }
        Some(match self.program.run(&mut room) {
            End::Finished(result) => {
                let val = self.program.results.get(result as usize);
                val.and_then(|val| self.program.value(val, &room, &written)).map(Ok)
            }
            End::Refused(at) => Some(Err(HandedOver { refuses: true, place: self.place(at) })),
            End::Left(at) => Some(Err(HandedOver { refuses: false, place: self.place(at) })),
        })
    }

    fn place(&self, at: u32) -> Place {
        let at = self
            .program
            .code
            .places
            .get(at as usize)
            .copied()
            .unwrap_or(At { file: usize::MAX, position: Position::NONE });
        self.place_of(at)
    }

    pub(super) fn place_of(&self, at: At) -> Place {
        match self.files.get(at.file) {
            Some(source) => crate::text::Text::File(source.clone()).place(at.position),
            None => Place::whole(&Source::new("<call>", "")),
        }
    }

    /// Whether it leads to a result at all.
    pub fn is_lowered(&self) -> bool {
        !self.program.is_hollow()
    }

    /// Where the interpreter has to take over, and why.
    pub fn reasons(&self) -> Vec<(String, Place)> {
        let left: Vec<u16> = self
            .program
            .code
            .ops
            .iter()
            .filter_map(|op| if let Op::Leave { why } = op { Some(*why) } else { None })
            .collect();
        let all = self.program.reasons.iter().enumerate();
        all.filter(|(why, _)| left.is_empty() || left.contains(&(*why as u16)))
            .map(|(_, reason)| (reason.what.clone(), self.place_of(reason.at)))
            .collect()
    }
}
