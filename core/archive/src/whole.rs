//! Values as they were, from the rows of their parts.

use indexmap::IndexMap;

use standpipe_quantity::value::Value;
use standpipe_quantity::{Dimension, Quantity, Written};

use crate::cell::Cell;

/// A value, or a part of one, under its name.
pub struct Part {
    pub name: String,
    pub kind: String,
    pub value: Value,
}

/// The columns of a value; those it was written with are for people.
pub const VALUE: [&str; 10] =
    ["kind", "truth", "si", "quantity", "dimension", "point", "unit", "written", "decimals", "text"];

pub fn part(name: Cell, cells: [Cell; 10]) -> Part {
    let [kind, truth, si, quantity, dimension, point, unit, written, decimals, text] = cells;
    let kind = kind.into_text();
    let value = match kind.as_str() {
        "truth" => Value::Truth(truth.is_true()),
        "number" => Value::Number(si.number().unwrap_or(f64::NAN)),
        "quantity" | "low" | "high" => {
            let number = written.number().zip(decimals.whole());
            let written = number.map(|(value, decimals)| Written {
                value,
                unit: unit.text().unwrap_or_default().into(),
                decimals: u8::try_from(decimals).unwrap_or(u8::MAX),
            });
            Value::Quantity(Quantity {
                si: si.number().unwrap_or(f64::NAN),
                dimension: dimension.text().and_then(Dimension::of_printed).unwrap_or_default(),
                point: point.is_true(),
                of: quantity.text().map(Into::into),
                written,
            })
        }
        "text" | "person" => Value::Text(text.into_text()),
        "left out" => Value::Text(String::new()),
        "empty list" => Value::List(Vec::new()),
        "empty record" => Value::Record(IndexMap::new()),
        _ => Value::Unknown,
    };
    Part { name: name.into_text(), kind, value }
}

/// Values from their parts, by the first of the names in their paths.
pub enum Tree {
    Leaf { end: bool, value: Value },
    Branch(IndexMap<String, Tree>),
}

impl Tree {
    pub fn of<'p>(parts: impl Iterator<Item = &'p Part>) -> IndexMap<String, Tree> {
        let mut all = IndexMap::new();
        for part in parts {
            let end = part.kind == "low" || part.kind == "high";
            Self::put(&mut all, &part.name, Tree::Leaf { end, value: part.value.clone() });
        }
        all
    }

    fn put(branch: &mut IndexMap<String, Tree>, path: &str, leaf: Tree) {
        match path.split_once('.') {
            None => {
                branch.insert(path.to_owned(), leaf);
            }
            Some((first, rest)) => {
                let inner = branch.entry(first.to_owned()).or_insert_with(|| Tree::Branch(IndexMap::new()));
                if let Tree::Branch(inner) = inner {
                    Self::put(inner, rest, leaf);
                }
            }
        }
    }

    fn value(self) -> Value {
        let parts = match self {
            Tree::Leaf { value, .. } => return value,
            Tree::Branch(parts) => parts,
        };
        if let (2, Some(low), Some(high)) = (parts.len(), parts.get("low"), parts.get("high"))
            && let (
                Tree::Leaf { end: true, value: Value::Quantity(low) },
                Tree::Leaf { end: true, value: Value::Quantity(high) },
            ) = (low, high)
        {
            return Value::Range(low.clone(), high.clone());
        }
        let is_list = parts.keys().enumerate().all(|(at, key)| *key == (at + 1).to_string());
        if is_list {
            return Value::List(parts.into_values().map(Tree::value).collect());
        }
        Value::Record(values(parts))
    }
}

pub fn values(parts: IndexMap<String, Tree>) -> IndexMap<String, Value> {
    parts.into_iter().map(|(name, tree)| (name, tree.value())).collect()
}

/// What is under one dotted name.
pub fn under(name: &str, parts: IndexMap<String, Tree>) -> Value {
    let mut whole = Value::Record(values(parts));
    for step in name.split('.') {
        let Value::Record(mut fields) = whole else { return Value::Unknown };
        whole = fields.swap_remove(step).unwrap_or(Value::Unknown);
    }
    whole
}
