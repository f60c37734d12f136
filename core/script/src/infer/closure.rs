//! What is asked of each of a list: `all(cone).every(|one| one < 700.degC)`.

use rhai::{AST, ASTNode, Expr, Stmt};

use super::Inference;
use crate::shape::Shape;
use crate::walk::{CURRY, function_name};

impl Inference<'_> {
    /// What a function gives that goes over a list with a closure; `None` for another function.
    pub(super) fn over_list(&mut self, name: &str, list: &Shape, args: &[Expr]) -> Option<Shape> {
        let [closure] = args else { return None };
        if !matches!(name, "every" | "some" | "filter" | "map") {
            return None;
        }
        let one = match list {
            Shape::List(one) => (**one).clone(),
            _ => Shape::Any,
        };
        let given = self.closure(closure, one)?;
        Some(match (name, given) {
            ("map", given) => Shape::List(Box::new(given)),
            ("filter", _) => list.clone(),
            ("some", Shape::Truth(Some(false))) => Shape::Truth(Some(false)),
            // Of an empty list all is true.
            _ => Shape::Truth(None),
        })
    }

    /// What a closure gives for an item of this shape.
    fn closure(&mut self, expr: &Expr, one: Shape) -> Option<Shape> {
        let (name, captured) = match expr {
            Expr::FnCall(call, _) if call.name == CURRY => (function_name(call.args.first()?)?, call.args.len() - 1),
            other => (function_name(other)?, 0),
        };
        let expression = self.expression;
        let function = expression.ast.iter_fn_def().find(|function| function.name.as_str() == name)?;
        let before = self.narrowed.len();
        // What it captures is called as it is outside; its own parameters may hide a name of the job.
        let mut shapes = std::iter::once(one).chain(std::iter::repeat(Shape::Any));
        for parameter in function.params.iter().skip(captured) {
            self.narrowed.push((vec![parameter.to_string()], shapes.next().unwrap_or(Shape::Any)));
        }
        let shape = match body(&expression.ast, &name).as_slice() {
            [Stmt::Expr(expr)] => self.expr(expr),
            [Stmt::FnCall(call, position)] => self.call(call, *position),
            _ => Shape::Any,
        };
        self.narrowed.truncate(before);
        Some(shape)
    }
}

/// The statements of a closure: what a function holds has no type that could be named from here, a walk shows it all the same.
fn body(ast: &AST, name: &str) -> Vec<Stmt> {
    let mut alone = ast.clone_functions_only();
    alone.retain_functions(|_, _, one, _| one == name);
    let mut body = Vec::new();
    alone.walk(&mut |nodes| {
        if let [ASTNode::Stmt(stmt)] = nodes {
            body.push((*stmt).clone());
        }
        true
    });
    body
}
