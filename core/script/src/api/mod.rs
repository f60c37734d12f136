//! Functions that scripts have besides the operators. One file per group; each function has its code, its explanation
//! and its examples in one place, and a test runs the examples.

mod arguments;
mod day;
mod decimal;
mod fit;
mod interpolate;
mod list;
mod number;
mod quantity;
mod range;
mod record;
mod series;
mod solve;
mod spread;
mod table;
mod text;
mod times;

use std::any::TypeId;
use std::collections::BTreeMap;
use std::rc::Rc;

use rhai::{Dynamic, ImmutableString, NativeCallContext};

use super::guest::Answer;
use super::interpreter::Interpreter;
use super::run::Run;

pub(super) use arguments::Arguments;
pub(super) use decimal::too_large;
pub(super) use solve::bracketed;
pub use spread::student_t;

/// A function as scripts see it.
pub(super) struct Function {
    pub name: &'static str,
    /// Names of its values; the last ones may be left out if they end in `?`.
    pub takes: &'static [&'static str],
    /// One sentence.
    pub about: &'static str,
    pub examples: &'static [Example],
    pub run: fn(Arguments<'_, '_>) -> Answer,
}

/// An expression and what comes of it, as shown; for an error, its message after `error: `.
pub(super) type Example = (&'static str, &'static str);

fn groups() -> [(&'static str, &'static [Function]); 16] {
    [
        ("numbers", number::FUNCTIONS),
        ("quantities", quantity::FUNCTIONS),
        ("decimals", decimal::FUNCTIONS),
        ("ranges", range::FUNCTIONS),
        ("lists", list::FUNCTIONS),
        ("records", record::FUNCTIONS),
        ("texts", text::FUNCTIONS),
        ("dates", day::FUNCTIONS),
        ("tables", table::FUNCTIONS),
        ("interpolation", interpolate::FUNCTIONS),
        ("root finding", solve::FUNCTIONS),
        ("curves through readings", fit::FUNCTIONS),
        ("what recent readings tell", fit::RECENT),
        ("scatter", spread::FUNCTIONS),
        ("readings over time", series::FUNCTIONS),
        ("times at which it was so", times::FUNCTIONS),
    ]
}

pub(super) fn all() -> impl Iterator<Item = &'static Function> {
    groups().into_iter().flat_map(|(_, functions)| functions)
}

impl Function {
    /// With how many values it can be called.
    fn counts(&self) -> Vec<usize> {
        let least = self.takes.iter().take_while(|name| !name.ends_with('?')).count();
        (least..=self.takes.len()).collect()
    }
}

/// Every function that scripts can call, with the numbers of values it takes.
pub(super) fn arities() -> BTreeMap<&'static str, Vec<usize>> {
    all().map(|function| (function.name, function.counts())).chain([("contains", vec![2])]).collect()
}

pub(super) fn register(scripts: &mut Interpreter, run: &Rc<Run>) {
    for function in all() {
        for count in function.counts() {
            // Any kind of value: what a function can't take, it says in our words.
            let types = vec![TypeId::of::<Dynamic>(); count];
            let shared = run.clone();
            scripts.register_raw_fn(function.name, types, move |context: NativeCallContext<'_>, args| {
                (function.run)(Arguments { run: &shared, context: &context, name: function.name, values: args })
            });
        }
    }
    let shared = run.clone();
    scripts.register_raw_fn("all", [TypeId::of::<ImmutableString>()], move |_, args| -> Answer {
        let name = args[0].read_lock::<ImmutableString>().map(|name| name.to_string()).unwrap_or_default();
        Ok(shared.every(&name).unwrap_or_else(|| Dynamic::from_array(Vec::new())))
    });
    // What an interpolated text makes of a value; an unknown one must not turn into words.
    let shared = run.clone();
    scripts.register_raw_fn("to_string", [TypeId::of::<Dynamic>()], move |_, args| -> Answer {
        Ok(text::written(&shared, args[0])?.into())
    });
}

/// A function with its explanation, for the lists that people read.
#[derive(Clone, Debug)]
pub struct Documented {
    pub group: &'static str,
    /// `round(number, digits?)`.
    pub call: String,
    pub about: &'static str,
    /// Expression and result.
    pub examples: &'static [(&'static str, &'static str)],
}

pub fn documented() -> Vec<Documented> {
    let one = |group, function: &Function| Documented {
        group,
        call: format!("{}({})", function.name, function.takes.join(", ")),
        about: function.about,
        examples: function.examples,
    };
    groups().iter().flat_map(|(group, functions)| functions.iter().map(move |function| one(group, function))).collect()
}
