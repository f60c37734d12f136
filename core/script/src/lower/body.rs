//! Bodies of functions. The language's crate keeps their type to itself; only a walk over the tree shows what is in them,
//! so they are copied once.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use rhai::{AST, ASTNode, FnAccess, ImmutableString, Position, Stmt};

pub(super) struct Body {
    pub params: Vec<ImmutableString>,
    pub public: bool,
    pub stmts: Vec<Stmt>,
    pub end: Position,
}

#[derive(Default)]
pub(crate) struct Bodies(RefCell<ByName>);

/// By name and number of parameters.
type ByName = HashMap<(ImmutableString, usize), Option<Rc<Body>>>;

impl Bodies {
    pub(super) fn find(&self, ast: &AST, name: &ImmutableString, arity: usize) -> Option<Rc<Body>> {
        let key = (name.clone(), arity);
        if let Some(known) = self.0.borrow().get(&key) {
            return known.clone();
        }
        let body = copy(ast, name, arity).map(Rc::new);
        self.0.borrow_mut().insert(key, body.clone());
        body
    }
}

fn copy(ast: &AST, name: &ImmutableString, arity: usize) -> Option<Body> {
    let defined = ast.iter_fn_def().find(|one| one.name == *name && one.params.len() == arity)?.clone();
    let mut alone = ast.clone_functions_only();
    alone.retain_functions(|_, _, one, params| one == name.as_str() && params == arity);
    let mut stmts = Vec::new();
    alone.walk(&mut |nodes: &[ASTNode<'_>]| {
        if let [ASTNode::Stmt(stmt)] = nodes {
            stmts.push((*stmt).clone());
        }
        true
    });
    Some(Body {
        params: defined.params.iter().cloned().collect(),
        public: defined.access == FnAccess::Public,
        stmts,
        end: defined.body.end_position(),
    })
}
