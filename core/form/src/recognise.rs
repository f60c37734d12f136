//! Telling variants apart by what is seen.

use indexmap::IndexMap;

use super::family::Family;
use super::sign::words;
use standpipe_quantity::value::Value;

/// What signs say of the variant.
#[derive(Clone, Debug, PartialEq)]
pub enum Recognised {
    /// It can only be this one.
    One(String),
    /// More than one still fits, or the family has none.
    Several(Vec<String>),
    /// What is seen fits none; the text says what speaks for what.
    None(String),
}

/// Compares signs with the variants of a family. Signs that nobody has looked at, or that a variant says nothing about,
/// speak neither for nor against it.
pub fn recognise(family: &Family, signs: &IndexMap<String, Value>) -> Recognised {
    let seen: Vec<(&String, &Value)> = signs.iter().filter(|(_, value)| !value.is_unknown()).collect();
    let fitting: Vec<&String> = family
        .variants
        .iter()
        .filter(|(_, variant)| {
            seen.iter().all(|(name, value)| variant.signs.get(*name).is_none_or(|sign| sign.fits(value)))
        })
        .map(|(id, _)| id)
        .collect();
    match fitting.as_slice() {
        [] if family.variants.is_empty() => Recognised::Several(Vec::new()),
        [] => Recognised::None(contradiction(family, &seen)),
        [one] => Recognised::One((*one).clone()),
        several => Recognised::Several(several.iter().map(|id| (*id).clone()).collect()),
    }
}

fn contradiction(family: &Family, seen: &[(&String, &Value)]) -> String {
    let mut parts = Vec::new();
    for (name, value) in seen {
        let known: Vec<_> =
            family.variants.iter().filter_map(|(id, variant)| Some((id, variant.signs.get(*name)?))).collect();
        if known.is_empty() {
            continue;
        }
        let label = name.replace('_', " ");
        let fitting: Vec<&str> = known.iter().filter(|(_, sign)| sign.fits(value)).map(|(id, _)| id.as_str()).collect();
        if fitting.is_empty() {
            let all: Vec<String> = known.iter().map(|(id, sign)| format!("{id} has {}", sign.words())).collect();
            parts.push(format!("{label} {} fits no variant of {} ({})", words(value), family.id, all.join(", ")));
        } else {
            parts.push(format!("{label} {} speaks for {}", words(value), fitting.join(" or ")));
        }
    }
    parts.join("; ")
}
