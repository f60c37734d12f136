//! One call of a function, with what its own variables held at its end.
//!
//! No script has to do anything for it: what its author named with `let` is what a person would check by hand.

use indexmap::IndexMap;
use rhai::{AST, Dynamic, Position, Scope};

use super::convert::{from_script, into_script};
use super::interpreter::Interpreter;
use super::names::Fault;
use super::parse_fault;
use super::scripts::{Scripts, first, split};
use super::text::Text;
use standpipe_diagnostic::Code;
use standpipe_quantity::value::Value;
use standpipe_yaml::Script;

/// What came of a call, and how.
#[derive(Clone, Debug)]
pub struct Explained {
    pub result: Result<Value, Fault>,
    /// Variables of the function in the order of their definition, as far as it came.
    pub steps: IndexMap<String, Value>,
}

/// Holds the inputs until the parameter of the function takes them.
const GIVEN: &str = "inputs";

impl Scripts {
    /// Calls a function as [`call_for`](Scripts::call_for) does, and keeps its variables.
    ///
    /// The statements of the function are run as if they stood in the file itself, behind its constants: variables at that
    /// level outlive the run. A call costs a copy of the file's syntax tree, so this is for one call, not for many.
    pub fn explain_for(
        &self,
        plugin: &str,
        function: &str,
        inputs: IndexMap<String, Value>,
    ) -> Result<Explained, Fault> {
        let nowhere = Script::new("<call>", function).place;
        let (script, name) = split(function, &nowhere).map_err(first)?;
        let file = self.library.find(plugin, script, &nowhere).map_err(first)?;
        let compiled = self.file(file, &nowhere).map_err(first)?;
        let defined = compiled.ast.iter_fn_def().find(|one| one.name == name && one.params.len() == 1);
        let Some(defined) = defined else {
            // Says what is wrong with the name.
            return Err(match self.check_function(plugin, function, &nowhere) {
                Err(problems) => first(problems),
                Ok(_) => Fault::NotShown(Vec::new()),
            });
        };
        let parameter = defined.params[0].to_string();
        let source = self.library.files[file].source.clone();
        let body = alone(&source.text, defined.body.start_position(), defined.body.end_position());
        let text = Text::File(source);
        let unread = |error| Fault::Failed(parse_fault::diagnostic(&text, &error, Code::FaultyScript).into());
        self.memory.clear();
        let body = self.interpreter.compile(body).map_err(unread)?;
        let whole = compiled.ast.merge(&given(&parameter)).merge(&body);

        let mut scope = Scope::new();
        let record: rhai::Map = inputs.iter().map(|(name, value)| (name.into(), into_script(value, name))).collect();
        scope.push_dynamic(GIVEN, Dynamic::from_map(record));
        self.run.start(Default::default());
        let result = self.interpreter.eval_ast_with_scope::<Dynamic>(&mut scope, &whole);
        let result = result.and_then(|value| from_script(&self.run, &value, "the result"));
        let result = match result {
            Err(error) => Err(self.faulty(&text, *error)),
            Ok(_) if !self.run.touched().is_empty() => Err(Fault::NotShown(self.run.touched())),
            Ok(value) => Ok(value),
        };
        Ok(Explained { result, steps: self.variables(&scope, &parameter) })
    }

    fn variables(&self, scope: &Scope<'_>, parameter: &str) -> IndexMap<String, Value> {
        let mut steps = IndexMap::new();
        // The newest comes first.
        let mut own: Vec<_> = scope.iter_raw().take_while(|(name, ..)| *name != parameter).collect();
        own.reverse();
        for (name, _, value) in own {
            // Functions in place are no values, and what is not known is no step.
            if let Ok(value) = from_script(&self.run, value, name)
                && !value.is_unknown()
            {
                steps.insert(name.to_owned(), value);
            }
        }
        steps
    }
}

/// `let x = <the inputs>;`, where the parameter of a function stands for the inputs. Variables inside a function are found
/// by counting back from the last one, so it has to come right before the function's own.
fn given(parameter: &str) -> AST {
    Interpreter::new_raw().compile(format!("let {parameter} = {GIVEN};")).unwrap_or_default()
}

/// The inside of a block, at its place in an otherwise empty text: what is wrong in it is then reported where it stands.
fn alone(text: &str, start: Position, end: Position) -> String {
    let (from, to) = (at(start), at(end));
    let mut inside = String::new();
    for (line, text) in text.split('\n').enumerate() {
        for (column, c) in text.chars().enumerate() {
            let here = (line + 1, column + 1);
            inside.push(if here > from && here < to { c } else { ' ' });
        }
        inside.push('\n');
    }
    inside
}

fn at(position: Position) -> (usize, usize) {
    (position.line().unwrap_or(0), position.position().unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ScriptFile;
    use standpipe_diagnostic::source::Source;
    use standpipe_quantity::Units;

    fn explained(text: &str, x: f64) -> Explained {
        let file = ScriptFile { name: "area".into(), plugin: "".into(), source: Source::new("area.rhai", text) };
        let other = "const HALF = 0.5; fn of(x) { x * global::HALF }";
        let other = ScriptFile { name: "half".into(), plugin: "".into(), source: Source::new("half.rhai", other) };
        let scripts = Scripts::new(Units::standard(), vec![file, other]);
        let inputs = IndexMap::from([("x".to_owned(), Value::Number(x))]);
        let explained = scripts.explain_for("", "area::triangle", inputs.clone()).expect("it compiles");
        let called = scripts.call("area::triangle", inputs);
        match (&explained.result, &called) {
            (Ok(one), Ok(other)) => assert_eq!(one, other),
            (Err(Fault::Failed(one)), Err(Fault::Failed(other))) => {
                assert_eq!((&one.message, one.place.range()), (&other.message, other.place.range()));
            }
            other => panic!("{other:?}"),
        }
        explained
    }

    #[test]
    fn the_variables_of_a_function_are_its_steps() {
        let text = "const THREE = 3;\nprivate fn squared(y) { let inner = y * y; inner }\n\
                    fn triangle(given) {\n  let base = given.x + global::THREE;\n  let square = squared(base);\n  \
                    if base > 4 { let hidden = 1; base += 1; }\n  let add = |z| z + base;\n  #{ area: half::of(square) }\n}\n";
        let all = explained(text, 1.0);
        assert_eq!(all.steps.keys().collect::<Vec<_>>(), ["base", "square"]);
        assert_eq!(all.steps["square"], Value::Number(16.0));
        let all = explained(text, 2.0);
        assert_eq!(all.steps["base"], Value::Number(6.0));
    }

    #[test]
    fn what_was_reached_before_a_refusal_or_an_early_end_is_kept() {
        let text = "fn triangle(x) {\n  let base = x.x * 2;\n  if base < 0 { throw \"too small\"; }\n  \
                    if base > 9 { return #{ area: 0 }; }\n  let more = 1;\n  #{ area: more }\n}\n";
        let refused = explained(text, -1.0);
        assert_eq!(refused.steps.keys().collect::<Vec<_>>(), ["base"]);
        assert!(matches!(refused.result, Err(Fault::Failed(_))));
        assert_eq!(explained(text, 5.0).steps.len(), 1);
        assert_eq!(explained(text, 1.0).steps.len(), 2);
    }
}
