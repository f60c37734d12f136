//! Records. A misspelt name is an error, so what may be left out is asked for by these functions.

use rhai::Dynamic;

use super::{Arguments, Function};
use crate::guest::Answer;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "has",
        takes: &["record", "name"],
        about: "Whether a record has something under this name.",
        examples: &[("has(#{ mass: 1.kg }, \"mass\")", "true"), ("#{ mass: 1.kg }.has(\"volume\")", "false")],
        run: |a| Ok(a.record(0)?.contains_key(a.text(1)?.as_str()).into()),
    },
    Function {
        name: "get",
        takes: &["record", "name", "otherwise"],
        about: "What a record has under a name, or something else if it has nothing there.",
        examples: &[("get(#{}, \"share\", 0.5)", "0.5"), ("get(#{ share: 1 }, \"share\", 0.5)", "1")],
        run: get,
    },
    Function {
        name: "names",
        takes: &["record"],
        about: "The names in a record, in alphabetical order.",
        examples: &[("names(#{ b: 1, a: 2 })", "a, b")],
        run: |a| {
            Ok(Dynamic::from_array(a.record(0)?.into_keys().map(|name| Dynamic::from(name.to_string())).collect()))
        },
    },
];

fn get(a: Arguments<'_, '_>) -> Answer {
    Ok(a.record(0)?.remove(a.text(1)?.as_str()).unwrap_or_else(|| a.value(2).clone()))
}
