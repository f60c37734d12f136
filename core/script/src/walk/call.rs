//! Calls of functions and operators, before anything runs.

use rhai::{ASTNode, Expr, FnCallExpr, Position};

use super::{CALL, CURRY, Call, Known, Walker, function_name};
use crate::names::{ComparedText, Name};
use crate::words::ON_BITS;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::At;

/// The functions that take the name of a table first.
const LOOKING_UP: [&str; 4] = ["table", "table_row", "table_rows", "table_between"];

impl Walker<'_> {
    pub(super) fn on_bits(&mut self, operator: &str, position: Position) {
        let place = self.at(position);
        let mut diagnostic =
            Diagnostic::error(Code::ForbiddenInScript, &place, format!("`{operator}` works on bits, not on values"));
        if let Some(meant) = match operator {
            "&" => Some("&&"),
            "|" => Some("||"),
            "^" => Some("**"),
            _ => None,
        } {
            diagnostic = diagnostic.help(format!("did you mean `{meant}`?"));
        }
        self.problem(diagnostic);
    }

    pub(super) fn call(&mut self, call: &FnCallExpr, position: Position, method: bool, known: Option<&Known>) {
        let name = call.name.as_str();
        let place = self.at(position);
        if call.capture_parent_scope {
            self.problem(Diagnostic::error(
                Code::ForbiddenInScript,
                &place,
                "`!` after a function's name is not allowed",
            ));
        }
        if !call.namespace.is_empty() {
            self.found.calls.push(Call {
                script: call.namespace.path.iter().map(|part| part.name.as_str()).collect::<Vec<_>>().join("::"),
                function: name.to_string(),
                arguments: call.args.len(),
                place: self.at(call.namespace.position()).to(&place),
            });
            return;
        }
        if call.is_operator_call() {
            return self.operator(call, name, position, known);
        }
        if name == CURRY && call.args.first().is_some_and(|first| function_name(first).is_some()) {
            return;
        }
        if name == "all" && !method {
            return self.all(call, &place);
        }
        if let (true, Some(Expr::StringConstant(id, at))) = (!method && LOOKING_UP.contains(&name), call.args.first()) {
            self.found.tables.push(At::new(id.to_string(), self.at(*at)));
        }
        let given = call.args.len() + usize::from(method);
        if name == CALL && given > 0 {
            return;
        }
        let counts = match self.around.functions.get(name) {
            Some(counts) => counts,
            None if !method && self.own.contains_key(name) => &self.own[name],
            None => return self.unknown_function(name, &place),
        };
        if !counts.contains(&given) {
            let takes: Vec<String> = counts.iter().map(usize::to_string).collect();
            let values = if takes == ["1"] { "value" } else { "values" };
            let message = format!("`{name}` takes {} {values}, here it gets {given}", takes.join(" or "));
            self.problem(Diagnostic::error(Code::UnknownName, &place, message));
        }
    }

    fn unknown_function(&mut self, name: &str, place: &Place) {
        let names = self.around.functions.keys().copied().chain(self.own.keys().map(String::as_str));
        let problem = Diagnostic::error(Code::UnknownName, place, format!("there is no function `{name}`"));
        let problem = problem.near(name, names);
        self.problem(problem);
    }

    fn operator(&mut self, call: &FnCallExpr, name: &str, position: Position, known: Option<&Known>) {
        if ON_BITS.contains(&name) {
            return self.on_bits(name, position);
        }
        if name == "**" && call.args.first().is_some_and(negative) {
            let place = self.at(position);
            self.problem(
                Diagnostic::error(Code::FaultyScript, &place, "a minus sign before a power can be read two ways")
                    .help("write `-(2 ** 2)`, or `pow(-2, 2)`"),
            );
        }
        let [left, right] = call.args.as_slice() else { return };
        if (name == "==" || name == "!=") && self.around.expression {
            for (value, text) in [(left, right), (right, left)] {
                if let Expr::StringConstant(text, at) = text
                    && let Some(path) = self.static_path(value, known)
                {
                    let place = self.at(*at);
                    self.found.compared.push(ComparedText { path, text: text.to_string(), place });
                }
            }
        }
    }

    fn static_path(&self, value: &Expr, known: Option<&Known>) -> Option<Vec<String>> {
        let (variable, parent) = match value {
            Expr::Variable(..) => (value, None),
            Expr::Dot(parts, ..) => (&parts.lhs, Some(ASTNode::Expr(value))),
            _ => return None,
        };
        let Expr::Variable(parts, _, position) = variable else { return None };
        if known.is_some_and(|known| known.own.contains(parts.1.as_str())) {
            return None;
        }
        Some(self.path(variable, parent.as_ref(), &parts.1, self.at(*position)).0)
    }

    fn all(&mut self, call: &FnCallExpr, place: &Place) {
        if !self.around.expression {
            return self.problem(
                Diagnostic::error(
                    Code::ForbiddenInScript,
                    place,
                    "`all` looks up the values of a job, and a script file has none",
                )
                .help("hand the list to the function"),
            );
        }
        match call.args.as_slice() {
            [Expr::StringConstant(name, position)] => {
                let place = place.to(&self.at(*position));
                self.found.names.push(Name { path: vec![name.to_string()], all: true, place });
            }
            _ => self.problem(
                Diagnostic::error(self.around.code, place, "`all` takes the name of one value")
                    .help("write e.g. `all(poured)`; for a part of each, `all(poured).map(|one| one.volume)`"),
            ),
        }
    }
}

fn negative(expr: &Expr) -> bool {
    match expr {
        Expr::IntegerConstant(number, _) => *number < 0,
        Expr::FloatConstant(number, _) => **number < 0.0,
        Expr::FnCall(call, _) => call.is_operator_call() && call.args.len() == 1 && call.name == "-",
        _ => false,
    }
}
