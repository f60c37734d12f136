//! Telling variants apart by what is seen.

use indexmap::IndexMap;

use super::family::Family;
use crate::value::Value;

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Recognised {
    One(String),
    /// What is seen fits more than one, or says nothing.
    Several(Vec<String>),
    /// What is seen fits none; a sentence for the person who saw it.
    None(String),
}

/// Compares signs with the variants of a family.
pub fn recognise(family: &Family, signs: &IndexMap<String, Value>) -> Recognised {
    if family.variants.is_empty() {
        return Recognised::Several(Vec::new());
    }
    let fits: Vec<String> = family
        .variants
        .iter()
        .filter(|(_, variant)| {
            signs.iter().all(|(sign, seen)| variant.signs.get(sign).is_none_or(|expected| same(expected, seen)))
        })
        .map(|(id, _)| id.clone())
        .collect();
    match fits.as_slice() {
        [one] => Recognised::One(one.clone()),
        [] => Recognised::None(contradiction(family, signs)),
        _ => Recognised::Several(fits),
    }
}

fn same(a: &Value, b: &Value) -> bool {
    a == b || text(a) == text(b)
}

fn text(value: &Value) -> String {
    match value {
        Value::Number(number) => number.to_string(),
        Value::Text(text) => text.clone(),
        other => format!("{other:?}"),
    }
}

fn contradiction(family: &Family, signs: &IndexMap<String, Value>) -> String {
    let seen: Vec<String> =
        signs.iter().map(|(sign, value)| format!("{} {}", sign.replace('_', " "), text(value))).collect();
    let known: Vec<String> = family
        .variants
        .iter()
        .map(|(id, variant)| {
            let signs: Vec<String> = variant
                .signs
                .iter()
                .filter(|(sign, _)| signs.contains_key(*sign))
                .map(|(sign, value)| format!("{} {}", sign.replace('_', " "), text(value)))
                .collect();
            format!("{id} has {}", signs.join(", "))
        })
        .collect();
    format!("seen: {}; but {}: no variant of `{}` fits", seen.join(", "), known.join("; "), family.id)
}
