//! Values written under paths of a form outside of a family, as an overlay does.

use super::Form;
use super::filling::{Filled, Filling};
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_yaml::{self as yaml, At, Node};

/// One value, with the path of its field.
#[derive(Clone, Debug)]
pub struct WrittenValue {
    /// As scripts see it: `body.height`.
    pub path: String,
    /// The value.
    pub value: Value,
    /// As it stands in the file.
    pub written: String,
    /// Where it stands.
    pub place: Place,
}

/// Reads a tree of keys, in which a dotted key stands for the keys it is made of; with the tables that are named.
pub fn written_values(
    form: &Form,
    units: &Units,
    node: &Node,
    problems: &mut Problems,
) -> (Vec<WrittenValue>, Vec<At<String>>) {
    let entries: Vec<(At<String>, Node)> =
        node.as_map().unwrap_or_default().iter().map(|(key, value)| nested(key, value)).collect();
    let mut filling = Filling {
        form,
        fields: &form.fields,
        units,
        variant: None,
        problems,
        filled: Filled::new(),
        tables: Vec::new(),
    };
    filling.take("", &entries);
    let (filled, tables) = (filling.filled, filling.tables);
    let values = filled.into_iter().map(|(path, given)| WrittenValue {
        path,
        value: given.value,
        written: given.written,
        place: given.place,
    });
    (values.collect(), tables)
}

/// `a.b: 3` as `a: { b: 3 }`; both parts keep the place of the key.
fn nested(key: &At<String>, value: &Node) -> (At<String>, Node) {
    match key.split_once('.') {
        None => (key.clone(), value.clone()),
        Some((first, rest)) => {
            let inner = nested(&At::new(rest.to_owned(), key.place.clone()), value);
            let node = Node { kind: yaml::Kind::Map(vec![inner]), place: key.place.to(&value.place) };
            (At::new(first.to_owned(), key.place.clone()), node)
        }
    }
}
