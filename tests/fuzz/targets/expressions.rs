//! Expressions: what mentions something unknown is never true, and nothing comes out differently the second time.

use std::borrow::Cow;

use standpipe::diagnostic::{Look, human};
use standpipe::quantity::Units;
use standpipe::script::{Fault, Names, Scripts};
use standpipe::value::Value;
use standpipe::yaml::Script;

/// What is known: a temperature, a number, a text, a list of numbers. All else is not.
struct Known(Vec<(&'static str, Value)>);

impl Names for Known {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        self.0.iter().find(|(known, _)| *known == name).map(|(_, value)| Cow::Borrowed(value))
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.latest(name).into_iter().map(Cow::into_owned).collect()
    }
}

thread_local! {
    static SCRIPTS: Scripts = Scripts::new(Units::standard(), Vec::new());
}

pub fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let units = Units::standard();
    let warm = Value::Quantity(units.quantity(48.5, "degC").unwrap());
    let list = Value::List(vec![Value::Number(1.0), Value::Number(2.0)]);
    let known = Known(vec![("a", warm), ("b", Value::Number(3.0)), ("c", Value::Text("drip".to_owned())), ("d", list)]);
    SCRIPTS.with(|scripts| {
        let expression = match scripts.compile(&Script::new("<gate>", text)) {
            Ok(expression) => expression,
            Err(problems) => {
                assert!(!problems.is_empty());
                human(&problems, Look { color: false, width: 80, folded: false });
                return;
            }
        };
        let first = scripts.evaluate(&expression, &known);
        let second = scripts.evaluate(&expression, &known);
        assert_eq!(format!("{first:?}"), format!("{second:?}"));
        let unknown = expression.names().iter().find(|name| known.latest(&name.path[0]).is_none());
        if let (Some(unknown), Ok(value)) = (unknown, &first) {
            panic!("`{}` is unknown, and it is {value:?}", unknown.written());
        }
        if let Err(Fault::NotShown(missing)) = &first {
            assert!(!missing.is_empty());
        }
    });
}
