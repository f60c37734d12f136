//! The interpreter with everything it may do, and nothing else.

use std::rc::Rc;

use rhai::{Array, Dynamic, OptimizationLevel};

use super::guest::{Absent, Answer};
use super::run::Run;
use super::token::Memory;
use super::{api, comparison, guest, limits, operator, property, token, words};

/// The one place that names the crate's own type; elsewhere it is what it does.
pub(super) type Interpreter = rhai::Engine;

pub(super) fn build(run: &Rc<Run>, memory: &Memory) -> Interpreter {
    // Raw: no packages, so no clock, no printing and no function that was not chosen here.
    let mut scripts = Interpreter::new_raw();
    // Folding constants would use the language's own operators.
    scripts
        .set_optimization_level(OptimizationLevel::None)
        .set_fast_operators(false)
        .set_fail_on_invalid_map_property(true)
        .set_allow_statement_expression(true);
    limits::set(&mut scripts);
    words::disable(&mut scripts);
    token::register(&mut scripts, memory);
    guest::register(&mut scripts);
    operator::register(&mut scripts, run);
    comparison::register(&mut scripts, run);
    property::register(&mut scripts, run);
    api::register(&mut scripts, run);
    iterators(&mut scripts, run);
    names(&mut scripts, run);
    let shared = run.clone();
    scripts.on_progress(move |_| shared.progress());
    scripts
}

/// Names of an expression are answered here and lie in no scope: a closure then takes a copy along. A variable it would
/// share with the closure, and in `spec.list.map(|x| x + spec.y)` it would stand in its own way.
fn names(scripts: &mut Interpreter, run: &Rc<Run>) {
    let shared = run.clone();
    // "Deprecated" marks it as volatile; the version of the language is pinned exactly.
    #[allow(deprecated)]
    scripts.on_var(move |name, index, context| {
        // Functions in files have a source, and variables of their own an index or an entry in the scope.
        if index > 0 || context.source().is_some_and(|source| !source.is_empty()) || context.scope().contains(name) {
            return Ok(None);
        }
        Ok(shared.latest(name))
    });
}

/// What `for` goes over. An unknown list must not look like an empty one.
fn iterators(scripts: &mut Interpreter, run: &Rc<Run>) {
    scripts.register_iterator::<Array>();
    scripts.register_iterator::<std::ops::Range<i64>>();
    scripts.register_iterator::<std::ops::RangeInclusive<i64>>();
    let shared = run.clone();
    let unknown = move |value: Dynamic| -> Box<dyn Iterator<Item = Answer>> {
        let error = match value.try_cast::<Absent>() {
            Some(absent) => shared.touch(&absent),
            None => guest::stop(standpipe_diagnostic::Code::UnknownName, "a value that is not known"),
        };
        Box::new(std::iter::once(Err(error)))
    };
    let mut module = rhai::Module::new();
    module.set_iter_result(std::any::TypeId::of::<Absent>(), unknown);
    scripts.register_global_module(module.into());
}
