//! What a compiled script mentions, and what in it the compiler lets pass but we don't.
//!
//! The interpreter's strict mode misses unknown functions, names used inside functions and dead branches; so every
//! name, call and property is looked at here, before anything runs.

mod call;

use std::collections::{BTreeMap, HashSet};

use rhai::{AST, ASTFlags, ASTNode, Dynamic, Expr, FlowControl, FnPtr, Position, ScriptFuncDef, Stmt};

use crate::names::{ComparedText, Name};
use crate::parse_fault::meant;
use crate::text::Text;
use crate::words::{self, ON_BITS};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near, Problems};
use standpipe_quantity::Units;
use standpipe_yaml::At;

#[derive(Default)]
pub(super) struct Findings {
    pub names: Vec<Name>,
    pub compared: Vec<ComparedText>,
    /// Other scripts that are called, and the functions called in them.
    pub calls: Vec<Call>,
    /// Tables whose names are written out.
    pub tables: Vec<At<String>>,
    pub problems: Problems,
}

/// A call of `script::function`.
pub(super) struct Call {
    pub script: String,
    pub function: String,
    pub arguments: usize,
    pub place: Place,
}

/// What is known where a script stands.
pub(super) struct Surroundings<'a> {
    pub text: &'a Text,
    /// faulty-expression for an expression, faulty-script for a file.
    pub code: Code,
    /// Our own functions by name, with the numbers of values they take.
    pub functions: &'a BTreeMap<&'static str, Vec<usize>>,
    /// Units, as properties of literal numbers.
    pub units: &'a HashSet<String>,
    pub expression: bool,
}

pub(super) const CURRY: &str = "curry";
const CALL: &str = "call";

pub(super) fn walk(ast: &AST, surroundings: &Surroundings<'_>) -> Findings {
    let mut walker = Walker {
        around: surroundings,
        own: own_functions(ast),
        constants: constants(ast),
        captured: captured(ast),
        found: Findings::default(),
    };
    if !surroundings.expression {
        walker.top_level(ast);
    }
    ast.clone_statements_only().walk(&mut |nodes| {
        walker.node(nodes, None);
        true
    });
    // One function at a time, because the walk does not say which function a node belongs to.
    for function in ast.iter_fn_def() {
        let (name, count) = (function.name.as_str(), function.params.len());
        // `clone_functions_only_filtered` clones them all, whatever its filter says.
        let mut alone = ast.clone_functions_only();
        alone.retain_functions(|_, _, one, params| one == name && params == count);
        let known = walker.known_in(function, &alone);
        alone.walk(&mut |nodes| {
            walker.node(nodes, Some(&known));
            true
        });
    }
    walker.found.names.sort_by_key(|name| name.place.range().start);
    walker.found.problems.sort_by_key(|problem| problem.place.range().start);
    walker.found
}

struct Walker<'a> {
    around: &'a Surroundings<'a>,
    own: BTreeMap<String, Vec<usize>>,
    constants: HashSet<String>,
    /// Names that closures take from outside, by the closure's name.
    captured: BTreeMap<String, Vec<String>>,
    found: Findings,
}

/// Names inside a function: its own, and those a closure took from where it stands.
struct Known {
    own: HashSet<String>,
    captured: HashSet<String>,
}

impl Walker<'_> {
    /// A file holds constants and functions; anything else would run where nobody sees it.
    fn top_level(&mut self, ast: &AST) {
        for stmt in ast.statements() {
            let constant = matches!(stmt, Stmt::Var(_, flags, _) if flags.intersects(ASTFlags::CONSTANT));
            if !constant && !matches!(stmt, Stmt::Noop(_)) {
                let place = self.around.text.place(stmt.position());
                self.problem(
                    Diagnostic::error(
                        Code::ForbiddenInScript,
                        &place,
                        "a script file holds only functions and constants",
                    )
                    .help("put it into a function, or write `const NAME = value;`"),
                );
            }
        }
        for function in ast.iter_fn_def() {
            // It would take the place of the other in silence.
            let built_in = self.around.functions.get(function.name.as_str());
            let taken = built_in.is_some_and(|counts| counts.contains(&function.params.len()));
            if taken || function.name == "all" {
                let place = self.around.text.place(function.body.start_position());
                let message = format!("every script has a function `{}` already", function.name);
                self.problem(Diagnostic::error(Code::ReservedName, &place, message).help("choose another name"));
            }
        }
    }

    fn known_in(&self, function: &ScriptFuncDef, alone: &AST) -> Known {
        let captured: HashSet<String> =
            self.captured.get(function.name.as_str()).into_iter().flatten().cloned().collect();
        let mut own: HashSet<String> =
            function.params.iter().map(|name| name.to_string()).filter(|name| !captured.contains(name)).collect();
        alone.walk(&mut |nodes| {
            match nodes.last() {
                Some(ASTNode::Stmt(Stmt::Var(declared, ..))) => {
                    own.insert(declared.0.name.to_string());
                }
                Some(ASTNode::Stmt(Stmt::For(declared, _))) => {
                    own.insert(declared.0.name.to_string());
                    own.extend(declared.1.as_ref().map(|counter| counter.name.to_string()));
                }
                _ => {}
            }
            true
        });
        Known { own, captured }
    }

    fn problem(&mut self, diagnostic: Diagnostic) {
        self.found.problems.push(diagnostic);
    }

    fn at(&self, position: Position) -> Place {
        self.around.text.place(position)
    }

    fn node(&mut self, nodes: &[ASTNode<'_>], known: Option<&Known>) {
        let parent = nodes.len().checked_sub(2).map(|index| &nodes[index]);
        match nodes.last() {
            Some(ASTNode::Stmt(Stmt::FnCall(call, position))) => self.call(call, *position, false, known),
            Some(ASTNode::Stmt(Stmt::Assignment(assignment))) => {
                let operator = &assignment.0;
                if let Some((.., syntax)) = operator.get_op_assignment_info().map(|info| (info.1, info.3))
                    && ON_BITS.contains(&syntax)
                {
                    self.on_bits(syntax, operator.position());
                }
            }
            Some(ASTNode::Stmt(Stmt::While(flow, position))) if never_ends(flow) => {
                let place = self.at(*position);
                let message = "nothing ends this loop: no `break`, no `return`";
                self.problem(
                    Diagnostic::error(Code::ScriptLimit, &place, message)
                        .help("say when it ends, or go over a list or `0..n` with `for`"),
                );
            }
            Some(ASTNode::Expr(expr)) => self.expr(expr, parent, known),
            _ => {}
        }
    }

    fn expr(&mut self, expr: &Expr, parent: Option<&ASTNode<'_>>, known: Option<&Known>) {
        match expr {
            Expr::FnCall(call, position) => self.call(call, *position, false, known),
            Expr::MethodCall(call, position) => self.call(call, *position, true, known),
            Expr::Variable(_, _, position) => self.variable(expr, *position, parent, known),
            Expr::ThisPtr(position) => {
                let place = self.at(*position);
                self.problem(words::refused("this", &place));
            }
            Expr::FloatConstant(number, position) if !number.is_finite() => {
                let place = self.at(*position);
                self.problem(Diagnostic::error(Code::NonFiniteResult, &place, "the number is too large to be finite"));
            }
            Expr::Index(parts, ..) if never_whole(&parts.rhs) => {
                let place = self.at(parts.rhs.start_position());
                self.problem(
                    Diagnostic::error(
                        Code::DimensionClash,
                        &place,
                        "a place in a list is a whole number, counted from 0",
                    )
                    .help("round it with `floor(...)` or `round(...)`"),
                );
            }
            // In `list[0].x` the property follows the index in the tree, not the list.
            Expr::Dot(parts, ..) if !is_index(expr, parent) => self.unit(&parts.lhs, &parts.rhs),
            _ => {}
        }
    }

    /// `30.degCC`: after a literal number only a unit makes sense.
    fn unit(&mut self, number: &Expr, property: &Expr) {
        let property = match property {
            Expr::Dot(chain, ..) | Expr::Index(chain, ..) => &chain.lhs,
            other => other,
        };
        let (Expr::IntegerConstant(..) | Expr::FloatConstant(..), Expr::Property(named, position)) = (number, property)
        else {
            return;
        };
        if self.around.units.contains(named.2.as_str()) {
            return;
        }
        let place = self.at(*position);
        let mut diagnostic = Diagnostic::error(Code::UnknownName, &place, format!("there is no unit `{}`", named.2));
        if let Some(unit) = Units::standard().script_name(&named.2) {
            diagnostic = diagnostic.help(format!("in expressions it is called `{unit}`")).mend_word(&named.2, unit);
        } else {
            // One letter makes another unit, `barg` of `bar` above all: none is certain.
            let gauge = |unit: &str| matches!(named.2.strip_prefix(unit), Some("g" | "a"));
            let units = self.around.units.iter().map(String::as_str).filter(|unit| !gauge(unit));
            if let Some(near) = Near::of(&named.2, units) {
                diagnostic = diagnostic.meant(&named.2, &Near { certain: false, ..near });
            }
        }
        self.problem(diagnostic);
    }

    fn variable(&mut self, expr: &Expr, position: Position, parent: Option<&ASTNode<'_>>, known: Option<&Known>) {
        let Expr::Variable(parts, ..) = expr else { return };
        let (name, namespace) = (parts.1.as_str(), &parts.2);
        let place = self.at(position);
        if !namespace.is_empty() {
            let constant = namespace.path.len() == 1 && namespace.root() == "global" && self.constants.contains(name);
            if !constant {
                let mut diagnostic =
                    Diagnostic::error(Code::UnknownName, &place, format!("there is no constant `{name}`"));
                if namespace.root() != "global" {
                    diagnostic = diagnostic.help("other scripts give functions, not constants");
                }
                self.problem(diagnostic);
            }
            return;
        }
        if known.is_some_and(|known| known.own.contains(name)) {
            return;
        }
        if self.around.expression {
            let (path, place) = self.path(expr, parent, name, place);
            // What a closure takes along is mentioned where the closure stands, but its properties only inside.
            self.found.names.push(Name { path, all: false, place });
            return;
        }
        if known.is_some_and(|known| known.captured.contains(name)) {
            return;
        }
        let mut diagnostic = Diagnostic::error(Code::UnknownName, &place, format!("there is no value `{name}` here"));
        if self.constants.contains(name) {
            if known.is_none() {
                return;
            }
            diagnostic = diagnostic.help(format!("inside a function write `global::{name}`"));
        } else if let Some(near) =
            known.and_then(|known| Near::of(name, known.own.iter().chain(&known.captured).map(String::as_str)))
        {
            diagnostic = diagnostic.meant(name, &near);
        } else if let Some(help) = meant(name, &diagnostic.place) {
            diagnostic = diagnostic.help(help);
        }
        self.problem(diagnostic);
    }

    /// Follows `a.b.c` as far as it is readable from the text.
    fn path(&self, variable: &Expr, parent: Option<&ASTNode<'_>>, name: &str, place: Place) -> (Vec<String>, Place) {
        let mut path = vec![name.to_string()];
        let mut place = place;
        let Some(ASTNode::Expr(Expr::Dot(parts, ..))) = parent else { return (path, place) };
        if !std::ptr::eq(&raw const parts.lhs, variable) {
            return (path, place);
        }
        let mut rest = &parts.rhs;
        loop {
            let (property, next) = match rest {
                Expr::Dot(chain, ..) => (&chain.lhs, Some(&chain.rhs)),
                // What follows an index is not readable, but the property before it is.
                Expr::Index(chain, ..) => (&chain.lhs, None),
                other => (other, None),
            };
            let Expr::Property(named, position) = property else { break };
            path.push(named.2.to_string());
            place = place.to(&self.at(*position));
            match next {
                Some(next) => rest = next,
                None => break,
            }
        }
        (path, place)
    }
}

/// `loop` or `while true` without a way out.
fn never_ends(flow: &FlowControl) -> bool {
    let goes_on = matches!(flow.expr, Expr::Unit(..) | Expr::BoolConstant(true, _));
    let mut leaves = false;
    for stmt in flow.body.statements() {
        stmt.walk(&mut Vec::new(), &mut |nodes: &[ASTNode<'_>]| {
            leaves |= match nodes.last() {
                Some(ASTNode::Stmt(Stmt::Return(..))) => true,
                // The other kind is `continue`.
                Some(ASTNode::Stmt(Stmt::BreakLoop(_, flags, _))) => flags.intersects(ASTFlags::BREAK),
                _ => false,
            };
            true
        });
    }
    goes_on && !leaves
}

/// What gives a number with a point whatever its names stand for: a division, and what it or such a literal is added to or
/// multiplied by.
pub(crate) fn never_whole(expr: &Expr) -> bool {
    match expr {
        Expr::FloatConstant(number, _) => number.fract() != 0.0,
        Expr::FnCall(call, _) if call.args.len() == 2 => match call.name.as_str() {
            "/" => true,
            "+" | "-" | "*" => call.args.iter().any(never_whole),
            _ => false,
        },
        _ => false,
    }
}

fn is_index(expr: &Expr, parent: Option<&ASTNode<'_>>) -> bool {
    matches!(parent, Some(ASTNode::Expr(Expr::Index(parts, ..))) if std::ptr::eq(&raw const parts.rhs, expr))
}

pub(super) fn function_name(expr: &Expr) -> Option<String> {
    let Expr::DynamicConstant(value, _) = expr else { return None };
    let value: &Dynamic = value;
    value.read_lock::<FnPtr>().map(|function| function.fn_name().to_string())
}

fn own_functions(ast: &AST) -> BTreeMap<String, Vec<usize>> {
    let mut own: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for function in ast.iter_fn_def() {
        own.entry(function.name.to_string()).or_default().push(function.params.len());
    }
    own
}

fn constants(ast: &AST) -> HashSet<String> {
    ast.iter_literal_variables(true, false)
        .map(|(name, ..)| name.to_string())
        .chain(ast.statements().iter().filter_map(|stmt| match stmt {
            Stmt::Var(declared, ..) => Some(declared.0.name.to_string()),
            _ => None,
        }))
        .collect()
}

/// A closure that uses names from outside becomes a function with these as its first parameters, handed over by `curry`.
fn captured(ast: &AST) -> BTreeMap<String, Vec<String>> {
    let mut captured = BTreeMap::new();
    ast.walk(&mut |nodes| {
        if let Some(ASTNode::Expr(Expr::FnCall(call, _))) = nodes.last()
            && call.name == CURRY
            && let Some(function) = call.args.first().and_then(function_name)
        {
            let names = call.args.iter().skip(1).filter_map(|arg| match arg {
                Expr::Variable(parts, ..) => Some(parts.1.to_string()),
                _ => None,
            });
            captured.insert(function, names.collect());
        }
        true
    });
    captured
}
