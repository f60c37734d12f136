//! Calls: of operators, of functions of scripts, which are inlined, and of functions in place.

use std::rc::Rc;

use rhai::{Expr, FnCallExpr, FnPtr, ImmutableString, Position};

use super::body::Body;
use super::program::At;
use super::value::{Closure, Val};
use super::ways::Var;
use super::{CALLS, DEEPEST, Home, LONGEST, Lowering};
use standpipe_diagnostic::source::Place;

impl Lowering<'_> {
    pub fn call(&mut self, call: &FnCallExpr, position: Position) -> Val {
        let name = call.name.as_str();
        if name == "curry" && !call.is_qualified() {
            return self.curried(call, position);
        }
        let args: Vec<Val> = call.args.iter().map(|arg| self.expr(arg)).collect();
        if self.over() {
            return Val::Any;
        }
        if call.is_qualified() {
            return self.elsewhere(call, args, position);
        }
        if call.is_operator_call() {
            let val = match args.as_slice() {
                [a] => self.unary(name, a, position),
                [a, b] => self.binary(name, a, b, position),
                _ => self.give_up("an operator of another kind", position),
            };
            return self.sized(val, position);
        }
        if let Some(function) = self.home.function(&call.name, args.len()) {
            return self.inline(self.home.clone(), &function, args, self.at(position));
        }
        if name == "contains" && args.len() == 2 {
            return self.binary(name, &args[0], &args[1], position);
        }
        let val = self.function(name, args, position);
        self.sized(val, position)
    }

    /// A function of ours, called as a property of its first value.
    pub fn method(&mut self, from: Val, root: Option<&Expr>, call: &FnCallExpr, position: Position) -> Val {
        // A function in place that takes along what it is applied to: the interpreter refuses.
        if let Some(Expr::Variable(root, ..)) = root
            && call.args.iter().any(|arg| takes_along(arg, &root.1))
        {
            return self.give_up("a function in place that uses what it is applied to", position);
        }
        let mut args = vec![from];
        args.extend(call.args.iter().map(|arg| self.expr(arg)));
        if call.name == "contains" && args.len() == 2 {
            return self.binary("contains", &args[0], &args[1], position);
        }
        let val = self.function(&call.name, args, position);
        self.sized(val, position)
    }

    /// A function in place with what it takes along. That is only looked at, never changed, as far as it is lowered.
    fn curried(&mut self, call: &FnCallExpr, position: Position) -> Val {
        let Some(Expr::DynamicConstant(value, _)) = call.args.first() else {
            return self.give_up("a function that is not written in place", position);
        };
        let Some(name) = value.read_lock::<FnPtr>().map(|function| ImmutableString::from(function.fn_name())) else {
            return self.give_up("a function that is not written in place", position);
        };
        let mut captured = Vec::new();
        for arg in call.args.iter().skip(1) {
            let Expr::Variable(parts, ..) = arg else { return self.give_up("a function of another kind", position) };
            captured.push((parts.1.clone(), self.expr(arg)));
        }
        self.sized(Val::Function(Rc::new(Closure { file: self.home.file(), name, captured })), position)
    }

    fn elsewhere(&mut self, call: &FnCallExpr, args: Vec<Val>, position: Position) -> Val {
        let script = call.namespace.root();
        let at = self.at(position);
        let plugin = match &self.home {
            Home::File(file, _) => self.scripts.library.files[*file].plugin.to_string(),
            Home::Expression(_) => self.plugin.to_owned(),
        };
        let nowhere = Place::whole(&standpipe_diagnostic::source::Source::new("<call>", ""));
        let found = self.scripts.library.find(&plugin, script, &nowhere).and_then(|file| {
            let compiled = self.scripts.file(file, &nowhere)?;
            Ok(Home::File(file, compiled))
        });
        match found.ok().and_then(|home| Some((home.function(&call.name, args.len())?, home))) {
            Some((function, home)) => self.inline(home, &function, args, at),
            None => self.give_up(format!("the function `{script}::{}`", call.name), position),
        }
    }

    /// The function's statements, with its parameters as variables.
    pub fn inline(&mut self, home: Home, function: &Body, args: Vec<Val>, at: At) -> Val {
        self.inlined += 1;
        if self.depth >= DEEPEST || self.emitted >= LONGEST || self.inlined > CALLS {
            return self.give_up("functions that call one another too deeply", at.position);
        }
        let home = std::mem::replace(&mut self.home, home);
        let params = function.params.iter().zip(args).map(|(name, val)| Var { name: name.clone(), val });
        let vars = std::mem::replace(&mut self.vars, params.collect());
        let loops = std::mem::take(&mut self.loops);
        let frame = self.frame.take();
        let end = self.new_join(0);
        self.frame = Some(end);
        self.depth += 1;
        let val = self.statements(&function.stmts);
        self.depth -= 1;
        let val = if self.joins_at(end) {
            self.jump(end, val, at);
            self.land(end)
        } else {
            val
        };
        self.frame = frame;
        self.loops = loops;
        self.vars = vars;
        self.home = home;
        val
    }

    /// Calls a function in place.
    pub fn apply(&mut self, function: &Closure, args: Vec<Val>, position: Position) -> Val {
        let at = self.at(position);
        if function.file != self.home.file() {
            return self.give_up("a function in place of another script", position);
        }
        let home = self.home.clone();
        let Some(defined) = home.function(&function.name, function.captured.len() + args.len()) else {
            return self.give_up("a function in place with other parameters", position);
        };
        let names: Vec<&ImmutableString> = function.captured.iter().map(|(name, _)| name).collect();
        if super::assign::assigned(&defined.stmts).iter().any(|name| names.contains(&name)) {
            return self.give_up("a function in place that changes what it takes along", position);
        }
        let all = function.captured.iter().map(|(_, val)| val.clone()).chain(args).collect();
        self.inline(home.clone(), &defined, all, at)
    }
}

fn takes_along(arg: &Expr, name: &ImmutableString) -> bool {
    let Expr::FnCall(call, _) = arg else { return false };
    call.name == "curry"
        && call.args.iter().skip(1).any(|one| matches!(one, Expr::Variable(parts, ..) if parts.1 == *name))
}
