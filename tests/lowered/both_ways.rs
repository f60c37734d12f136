//! What a script comes to by the interpreter, and what its program says of the same.

use indexmap::IndexMap;
use standpipe::quantity::Quantity;
use standpipe::script::{Fault, Lowered, Scripts, Way};
use standpipe::value::Value;

/// What came of a call, to the last bit and with the place of a refusal.
pub fn interpreted(
    scripts: &Scripts,
    plugin: &str,
    function: &str,
    inputs: &IndexMap<String, Value>,
) -> Result<Value, String> {
    scripts.set_way(Way::Interpreted);
    scripts.call_for(plugin, function, inputs.clone()).map_err(|fault| match fault {
        Fault::Failed(problem) => {
            let range = problem.place.range();
            format!("{}:{}..{} {}", problem.place.source().name, range.start, range.end, problem.message)
        }
        Fault::NotShown(names) => format!("not shown: {}", names.join(", ")),
    })
}

/// What the program says of the same call; `None` where it hands over to the interpreter.
pub fn compare(
    program: &Lowered,
    inputs: &IndexMap<String, Value>,
    expected: &Result<Value, String>,
) -> Result<Option<()>, String> {
    match (program.run(inputs), expected) {
        (None, _) => Ok(None),
        (Some(Ok(value)), Ok(expected)) => {
            // Numbers as digits that mean just them, with the sign of zero, and how they were written.
            let (value, expected) = (format!("{:?}", plain(&value)), format!("{:?}", plain(expected)));
            if value == expected { Ok(Some(())) } else { Err(format!("{value}\n  instead of\n{expected}")) }
        }
        (Some(Err(over)), Err(refusal)) if over.refuses => {
            let range = over.place.range();
            let place = format!("{}:{}..{} ", over.place.source().name, range.start, range.end);
            if refusal.starts_with(&place) {
                Ok(Some(()))
            } else {
                Err(format!("refuses at {place} and not {refusal}"))
            }
        }
        (Some(Err(over)), _) if !over.refuses => Ok(None),
        (Some(Err(over)), Ok(_)) => Err(format!("refuses at {:?}, the interpreter does not", over.place)),
        (Some(other), expected) => Err(format!("{other:?}\n  instead of\n{expected:?}")),
    }
}

/// Without the families of quantities: where branches differ in them a program names none, and the sheet names it anew.
fn plain(value: &Value) -> Value {
    let quantity = |quantity: &Quantity| Quantity { of: None, ..quantity.clone() };
    match value {
        Value::Quantity(one) => Value::Quantity(quantity(one)),
        Value::Range(low, high) => Value::Range(quantity(low), quantity(high)),
        Value::List(items) => Value::List(items.iter().map(plain).collect()),
        Value::Record(fields) => Value::Record(fields.iter().map(|(name, one)| (name.clone(), plain(one))).collect()),
        other => other.clone(),
    }
}
