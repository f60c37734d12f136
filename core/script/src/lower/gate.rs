//! Conditions that are looked at again and again, as over a long series of readings.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use indexmap::IndexMap;
use rhai::{ImmutableString, Stmt};

use super::program::At;
use super::seam::{Lowered, Way};
use super::value::{Slot, Val};
use super::ways::Var;
use super::{Bodies, Home, Lowering};
use crate::expression::Expression;
use crate::names::Names;
use crate::scripts::Scripts;
use standpipe_quantity::value::Value;

/// From how many evaluations on a program pays, and how many shapes of its values are worth one.
const OFTEN: u32 = 8;
const SHAPES: usize = 8;

/// Programs of one expression.
#[derive(Default)]
pub(crate) struct Often {
    count: Cell<u32>,
    programs: RefCell<Vec<Rc<Lowered>>>,
}

impl Scripts {
    /// Whether a condition holds, by a program; `None` where the interpreter has to say.
    pub(crate) fn holds_lowered(&self, expression: &Expression, names: &dyn Names) -> Option<bool> {
        let often = &expression.often;
        let count = often.count.get().saturating_add(1);
        often.count.set(count);
        let early = match self.way() {
            Way::Interpreted => true,
            Way::Auto => count < OFTEN,
            Way::Lowered => false,
        };
        if early || expression.names.iter().any(|name| name.all) {
            return None;
        }
        let inputs = leaves(expression, names)?;
        let known = often.programs.borrow().iter().find(|one| one.fits(&inputs)).cloned();
        let program = match known {
            Some(program) => program,
            None if often.programs.borrow().len() >= SHAPES => return None,
            None => {
                let program = Rc::new(self.lower_expression(expression, &inputs)?);
                often.programs.borrow_mut().push(program.clone());
                program
            }
        };
        match program.run(&inputs)?.ok()? {
            Value::Truth(truth) => Some(truth),
            // Of other results it matters which family they are of.
            _ => None,
        }
    }

    fn lower_expression(&self, expression: &Expression, inputs: &IndexMap<String, Value>) -> Option<Lowered> {
        self.run.tables.called_by("");
        let home = Home::Expression(Rc::new((expression.ast.clone(), Bodies::default())));
        let mut lowering = Lowering::new(self, "", home);
        let mut given = Vec::new();
        for (path, value) in inputs {
            let (one, val) = lowering.given(value)?;
            given.push((path.clone(), one));
            let mut keys = path.split('.').map(ImmutableString::from);
            let root = keys.next()?;
            let keys: Vec<ImmutableString> = keys.collect();
            match lowering.vars.iter().position(|var| var.name == root) {
                Some(index) => put(&mut lowering.vars[index].val, &keys, val),
                None => {
                    let mut whole = Val::record([]);
                    put(&mut whole, &keys, val);
                    lowering.vars.push(Var { name: root, val: whole });
                }
            }
        }
        let stmts: Vec<Stmt> = expression.ast.statements().to_vec();
        // Before the expression stand the scripts that it calls.
        let last = stmts.last()?;
        let val = lowering.statements(std::slice::from_ref(last));
        let at = At { file: usize::MAX, position: last.position() };
        lowering.result(&val, at);
        let (program, _) = lowering.finish();
        Some(Lowered::new(program, given, self))
    }
}

/// The values at the ends of the paths that an expression mentions.
fn leaves(expression: &Expression, names: &dyn Names) -> Option<IndexMap<String, Value>> {
    let mut roots: IndexMap<&str, Value> = IndexMap::new();
    let mut leaves = IndexMap::new();
    for name in &expression.names {
        let root = name.path[0].as_str();
        if !roots.contains_key(root) {
            roots.insert(root, names.latest(root)?);
        }
        let mut part = &roots[root];
        let mut path = root.to_owned();
        for key in &name.path[1..] {
            let Value::Record(fields) = part else { break };
            part = fields.get(key)?;
            path.push('.');
            path.push_str(key);
        }
        // A record as a whole holds what others mention of it too.
        if matches!(part, Value::Record(_) | Value::Unknown) {
            return None;
        }
        leaves.entry(path).or_insert_with(|| part.clone());
    }
    Some(leaves)
}

fn put(whole: &mut Val, keys: &[ImmutableString], val: Val) {
    let Some((first, rest)) = keys.split_first() else {
        *whole = val;
        return;
    };
    if let Val::Record(fields) = whole {
        let slot = Rc::make_mut(fields).entry(first.clone()).or_insert_with(|| Slot::new(Val::record([])));
        put(&mut slot.val, rest, val);
    }
}
