//! Scripts come to the same by the interpreter and as a program: those that choices make, and any text for a script.

use indexmap::IndexMap;
use standpipe::quantity::Units;
use standpipe::script::{ScriptFile, Scripts};
use standpipe::source::Source;
use standpipe::value::Value;

#[path = "../../lowered/both_ways.rs"]
mod both_ways;
#[path = "../../lowered/written.rs"]
mod written;

use both_ways::{compare, interpreted};
use written::{Dice, inputs, script};

pub fn run(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    let mut dice = Dice::new(rest, u64::from(*first));
    let text = match *first {
        // A text as it is.
        255 => String::from_utf8_lossy(rest).into_owned(),
        _ => script(&mut dice),
    };
    let units = Units::standard();
    let source = Source::new("random.rhai", text.as_str());
    let scripts = Scripts::new(units.clone(), vec![ScriptFile { name: "random".into(), plugin: "".into(), source }]);
    if !scripts.check().is_empty() {
        return;
    }
    for _ in 0..3 {
        let given: IndexMap<String, Value> = inputs(&mut dice, &units);
        let Some(program) = scripts.lower_call("", "random::made", &given) else { return };
        let expected = interpreted(&scripts, "", "random::made", &given);
        if let Err(difference) = compare(&program, &given, &expected) {
            panic!("{difference}\n{given:?}\n{text}\n{}", program.dump());
        }
    }
}
