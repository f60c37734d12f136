//! A condition that is looked at thousands of times with other numbers: in trials, where each reading is moved by an error.

use std::rc::Rc;

use indexmap::IndexMap;
use rhai::{ImmutableString, Stmt};

use super::cache::{Lowered, Way};
use super::program::{At, Program};
use super::run::End;
use super::shape::Given;
use super::value::{Slot, Val};
use super::ways::Var;
use super::{Bodies, Home, Lowering};
use crate::expression::Expression;
use crate::names::Names;
use crate::scripts::Scripts;
use standpipe_quantity::value::Value;

/// A condition as a program, with the values it was made for in its registers.
pub struct Condition {
    program: Lowered,
    room: Vec<f64>,
}

impl Scripts {
    /// The condition as a program for values of this shape; `None` where the interpreter has to say.
    pub fn condition(&self, expression: &Expression, names: &dyn Names) -> Option<Condition> {
        if self.way() == Way::Interpreted || expression.names.iter().any(|name| name.all) {
            return None;
        }
        let inputs = leaves(expression, names)?;
        let program = self.lower_condition(expression, &inputs)?;
        let mut room = program.program.room();
        Given::load_fields(&program.given, &inputs, &mut room, &mut Vec::new()).then_some(Condition { program, room })
    }

    fn lower_condition(&self, expression: &Expression, inputs: &IndexMap<String, Value>) -> Option<Lowered> {
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

impl Condition {
    /// The register of a quantity that is mentioned by its bare name; nothing where that is not mentioned.
    pub fn register(&self, name: &str) -> Option<u16> {
        self.program.given.iter().find_map(|(known, given)| match given {
            Given::Quantity { si, .. } if known == name => Some(*si),
            _ => None,
        })
    }

    /// Puts a number in base units into a register.
    pub fn set(&mut self, register: u16, number: f64) {
        self.room[usize::from(register)] = number;
    }

    /// Whether it holds for the numbers as they are; `None` where the interpreter has to say.
    pub fn holds(&mut self) -> Option<bool> {
        let End::Finished(result) = self.program.program.run(&mut self.room) else { return None };
        match self.program.program.results.get(usize::from(result))? {
            Val::Truth(term) => Some(Program::number(*term, &self.room) != 0.0),
            _ => None,
        }
    }
}

/// The values at the ends of the paths that an expression mentions.
fn leaves(expression: &Expression, names: &dyn Names) -> Option<IndexMap<String, Value>> {
    let mut leaves = IndexMap::new();
    for name in &expression.names {
        let value = names.latest(&name.path[0])?;
        let (mut part, mut depth) = (&*value, 0);
        for key in &name.path[1..] {
            let Value::Record(fields) = part else { break };
            part = fields.get(key)?;
            depth += 1;
        }
        // A record as a whole holds what others mention of it too.
        if matches!(part, Value::Record(_) | Value::Unknown) {
            return None;
        }
        leaves.entry(name.path[..=depth].join(".")).or_insert_with(|| part.clone());
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
