//! Every function's examples; the submodules hold the traps.

mod answers;
mod budgets;
mod fits;
mod flat;
mod guests;
mod lent;
mod places;
mod tables;

use std::borrow::Cow;
use std::collections::HashMap;

use indexmap::IndexMap;

use super::*;
use standpipe_diagnostic::Code;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Style, Units};
use standpipe_yaml::Script;

#[derive(Default)]
struct Known(HashMap<String, Vec<Value>>);

impl Known {
    fn with(mut self, name: &str, values: impl IntoIterator<Item = Value>) -> Self {
        self.0.insert(name.into(), values.into_iter().collect());
        self
    }
}

impl Names for Known {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        self.0.get(name)?.last().map(Cow::Borrowed)
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.0.get(name).cloned().unwrap_or_default()
    }
}

fn scripts() -> Scripts {
    Scripts::with_needs(Units::standard(), Vec::new(), vec![table("tests", "springs", SPRINGS)], IndexMap::new())
}

const SPRINGS: &str = "# source: made up\nname,wire [mm],load [N]\nsoft,1,2\nmedium,2,6\nhard,3,18\n";

fn table(plugin: &str, id: &str, text: &str) -> TableFile {
    TableFile {
        id: id.into(),
        plugin: plugin.into(),
        source: standpipe_diagnostic::source::Source::new(format!("{plugin}/tables/{id}.csv"), text),
    }
}

fn quantity(number: f64, unit: &str) -> Value {
    Value::Quantity(Units::standard().quantity(number, unit).expect("a unit"))
}

fn evaluate_with(names: &Known, text: &str) -> Result<Value, Fault> {
    let scripts = scripts();
    let expression = scripts
        .compile(&Script::new("<test>", text))
        .map_err(|problems| Fault::Failed(problems.into_iter().next().expect("a problem").into()))?;
    scripts.evaluate(&expression, names)
}

fn evaluate(text: &str) -> Result<Value, Fault> {
    evaluate_with(&Known::default(), text)
}

/// The result as shown, or `error: ` and the message.
fn shown(text: &str) -> String {
    match evaluate(text) {
        Ok(value) => Units::standard().show_value(&value, &Style::default()),
        Err(Fault::Failed(diagnostic)) => format!("error: {}", diagnostic.message),
        Err(Fault::NotShown(names)) => format!("not shown: {}", names.join(", ")),
    }
}

#[track_caller]
fn fails(text: &str, code: Code) -> String {
    match evaluate(text) {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.code, code, "{text}: {}", diagnostic.message);
            diagnostic.message
        }
        other => panic!("{text} gives {other:?}"),
    }
}

fn files(of: &[(&str, &str, &str)]) -> Vec<ScriptFile> {
    of.iter()
        .map(|(plugin, name, text)| ScriptFile {
            name: (*name).into(),
            plugin: (*plugin).into(),
            source: standpipe_diagnostic::source::Source::new(format!("{plugin}/scripts/{name}.rhai"), *text),
        })
        .collect()
}

#[test]
fn every_function_does_what_its_examples_say() {
    let mut wrong = Vec::new();
    for function in documented() {
        assert!(!function.examples.is_empty(), "{} has no example", function.call);
        for (text, expected) in function.examples {
            let found = shown(text);
            let found = match found.as_str() {
                "yes" => "true",
                "no" => "false",
                other => other,
            };
            // How many digits a message shows is no matter of the function.
            let as_said = expected.starts_with("error: ") && found.starts_with(expected);
            if found != *expected && !as_said {
                wrong.push(format!("{text}\n  expected {expected}\n  found    {found}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
