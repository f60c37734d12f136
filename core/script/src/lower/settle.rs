//! What is settled beforehand is worked out by the interpreter itself, so that it is right by definition.

use std::rc::Rc;

use rhai::{Array, Dynamic, ImmutableString, Map, Position, Scope};

use super::Lowering;
use super::code::Node;
use super::program::WrittenAs;
use super::value::{ONE, Slot, Term, Val, ZERO};
use crate::guest::Span;
use crate::operand::{Operand, collapsed};
use crate::scripts::Scripts;
use standpipe_quantity::Quantity;

/// Names that no script can see: they exist only while one call is worked out.
const NAMES: [&str; 4] = ["first", "second", "third", "fourth"];

impl Lowering<'_> {
    /// A function or an operator on settled values. Of others only the interpreter knows.
    pub fn settled_call(&mut self, name: &str, args: &[Val], position: Position) -> Val {
        if self.over() {
            return Val::Any;
        }
        if args.iter().all(Val::is_settled) && args.len() <= NAMES.len() {
            let values: Option<Vec<Dynamic>> = args.iter().map(|arg| self.to_dynamic(arg)).collect();
            if let Some(values) = values {
                return match self.scripts.settle(name, values) {
                    Some(value) => self.of_dynamic(&value),
                    None => {
                        let at = self.at(position);
                        self.emit(Node::Refuse(at));
                        self.stop();
                        Val::Any
                    }
                };
            }
        }
        let what = if name.chars().all(|c| c.is_alphanumeric() || c == '_') {
            format!("the function `{name}` on values that only a run shows")
        } else {
            format!("`{name}` on values that only a run shows")
        };
        self.give_up(what, position);
        match name {
            "text" | "lower" | "trim" | "join" => Val::Text(Term::Reg(0)),
            "starts_with" | "has" | "==" | "contains" => Val::Truth(Term::Reg(0)),
            "table_row" | "table_rows" if self.looking => self.rows(name, args),
            _ => Val::Any,
        }
    }

    /// What any row of a table is, to look at what becomes of it.
    fn rows(&mut self, name: &str, args: &[Val]) -> Val {
        let Some(id) = args.first().filter(|id| id.is_settled()).and_then(|id| self.to_dynamic(id)) else {
            return Val::Any;
        };
        let Some(rows) = self.scripts.settle("table", vec![id]) else { return Val::Any };
        let Val::List(rows) = self.of_dynamic(&rows) else { return Val::Any };
        let all: Vec<Val> = rows.iter().map(|slot| slot.val.clone()).collect();
        let one = self.any_of(&all);
        // Which row it is, is not settled, so that neither are its values.
        let one = one.with_terms(&mut |_| Term::Reg(0));
        if name == "table_row" { one } else { Val::ListOf(Rc::new(one)) }
    }

    pub fn of_dynamic(&mut self, value: &Dynamic) -> Val {
        self.spend(1);
        match Operand::of(value) {
            Operand::Number(number) => Val::Number(Term::Const(number)),
            Operand::Whole(whole) => Val::Whole(Term::Const(whole as f64)),
            Operand::Quantity(quantity) => {
                let (measure, si, written) = self.settled_quantity(&quantity);
                Val::Quantity(measure, si, written)
            }
            Operand::Truth(truth) => Val::Truth(if truth { ONE } else { ZERO }),
            Operand::Text(text) => self.text(&text),
            Operand::Span(span) => {
                let [low, high] = [span.low, span.high].map(|end| {
                    let (measure, si, written) = self.settled_quantity(&end);
                    Val::Quantity(measure, si, written)
                });
                Val::Range(Rc::new((low, high)))
            }
            Operand::Day(_) | Operand::Exact(_) => Val::Held(value.clone()),
            Operand::List => {
                let items: Array = value.read_lock::<Array>().map(|list| list.clone()).unwrap_or_default();
                Val::List(Rc::new(items.iter().map(|item| Slot::new(self.of_dynamic(item))).collect()))
            }
            Operand::Record => {
                let fields: Map = value.read_lock::<Map>().map(|map| map.clone()).unwrap_or_default();
                let fields: Vec<(ImmutableString, Slot)> = fields
                    .iter()
                    .map(|(name, field)| (name.as_str().into(), Slot::new(self.of_dynamic(field))))
                    .collect();
                Val::record(fields)
            }
            Operand::Nothing => Val::Nothing,
            Operand::Absent(_) | Operand::Series | Operand::Times | Operand::Function | Operand::Other => Val::Any,
        }
    }

    fn to_dynamic(&self, val: &Val) -> Option<Dynamic> {
        let number = |term: &Term| if let Term::Const(number) = term { Some(*number) } else { None };
        Some(match val {
            Val::Nothing => Dynamic::UNIT,
            Val::Truth(term) => (number(term)? != 0.0).into(),
            Val::Whole(term) => Dynamic::from_int(number(term)? as i64),
            Val::Number(term) => Dynamic::from_float(number(term)?),
            Val::Quantity(..) => collapsed(self.to_quantity(val)?),
            Val::Range(ends) => {
                Dynamic::from(Span { low: self.to_quantity(&ends.0)?, high: self.to_quantity(&ends.1)? })
            }
            Val::Text(term) => self.program.texts.get(number(term)? as usize)?.as_str().into(),
            Val::List(slots) => {
                let items: Option<Array> = slots.iter().map(|slot| self.to_dynamic(&slot.val)).collect();
                Dynamic::from_array(items?)
            }
            Val::Record(fields) => {
                let fields: Option<Map> = fields
                    .iter()
                    .map(|(name, slot)| Some((name.as_str().into(), self.to_dynamic(&slot.val)?)))
                    .collect();
                Dynamic::from_map(fields?)
            }
            Val::Held(value) => value.clone(),
            _ => return None,
        })
    }

    fn to_quantity(&self, val: &Val) -> Option<Quantity> {
        let Val::Quantity(measure, Term::Const(si), Term::Const(written)) = val else { return None };
        let written = match *written as usize {
            0 => None,
            place => match self.program.written.get(place - 1)? {
                WrittenAs::Settled(written) => Some(written.clone()),
                WrittenAs::Input(_) => return None,
            },
        };
        Some(Quantity { written, ..measure.with(*si) })
    }
}

impl Scripts {
    /// One call of a function or an operator, as a script would make it.
    fn settle(&self, name: &str, values: Vec<Dynamic>) -> Option<Dynamic> {
        let key = (name.to_owned(), values.len());
        let known = self.lowered.settled.borrow().get(&key).cloned();
        let ast = match known {
            Some(ast) => ast,
            None => {
                let names = &NAMES[..values.len()];
                let word = name.chars().all(|c| c.is_alphanumeric() || c == '_');
                let text =
                    if word { format!("{name}({})", names.join(", ")) } else { names.join(&format!(" {name} ")) };
                self.memory.clear();
                let ast = Rc::new(self.interpreter.compile_expression(text).ok()?);
                self.lowered.settled.borrow_mut().insert(key, ast.clone());
                ast
            }
        };
        let mut scope = Scope::new();
        for (name, value) in NAMES.iter().zip(values) {
            scope.push_dynamic(*name, value);
        }
        self.run.start(Default::default());
        let result = self.interpreter.eval_ast_with_scope::<Dynamic>(&mut scope, &ast).ok()?;
        self.run.touched().is_empty().then_some(result)
    }
}
