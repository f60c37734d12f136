//! Conditions: whether one lets more through than the other. Parts that are alike are set aside; of what is left, limits are
//! compared as quantities, and else by what each leaves of the values it is about.

use super::Version;
use super::value::same;
use crate::given::Scope;
use crate::view::View;
use standpipe_diagnostic::Problems;
use standpipe_form::Facts;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Units, close};
use standpipe_script::{Names, Shape};
use standpipe_yaml::Script;
use std::borrow::Cow;

/// How a condition goes from one version to the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Change {
    Same,
    Loosened,
    Tightened,
    /// It can't be told.
    Other,
}

impl Change {
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Same, one) | (one, Self::Same) => one,
            (one, two) if one == two => one,
            _ => Self::Other,
        }
    }
}

/// What differs between two conditions under the families of the newer version.
pub(super) fn change(old: &str, new: &str, version: &Version) -> Change {
    let (mut before, mut after) = (parts(old, "&&"), parts(new, "&&"));
    let units = &version.stock.units;
    without_common(&mut before, &mut after, units);
    let mut change = Change::Same;
    // Pairs that speak of the same thing.
    before.retain(|one| {
        let Some(at) = after.iter().position(|other| about(one) == about(other)) else { return true };
        let other = after.remove(at);
        change = change.and(pair(one, &other, version));
        false
    });
    change.and(match (before.as_slice(), after.as_slice()) {
        ([], []) => Change::Same,
        ([], _) => Change::Tightened,
        (_, []) => Change::Loosened,
        ([one], [other]) => pair(one, other, version),
        _ => Change::Other,
    })
}

fn without_common(before: &mut Vec<String>, after: &mut Vec<String>, units: &Units) {
    before.retain(|one| match after.iter().position(|other| same(one, other, units)) {
        Some(at) => {
            after.remove(at);
            false
        }
        None => true,
    });
}

/// Two single conditions.
fn pair(old: &str, new: &str, version: &Version) -> Change {
    let (mut before, mut after) = (parts(old, "||"), parts(new, "||"));
    if before.len() > 1 || after.len() > 1 {
        without_common(&mut before, &mut after, &version.stock.units);
        return match (before.as_slice(), after.as_slice()) {
            ([], []) => Change::Same,
            // Another way to meet it.
            ([], _) => Change::Loosened,
            (_, []) => Change::Tightened,
            ([one], [other]) => change(one, other, version),
            _ => Change::Other,
        };
    }
    if let (Some(old), Some(new)) = (comparison(old), comparison(new))
        && let Some(change) = compared(&old, &new, version).or_else(|| shifted(&old, &new, version))
    {
        return change;
    }
    implied(old, new, version)
}

/// The text in brackets, where these are around all of it.
fn bare(text: &str) -> &str {
    let text = text.trim();
    let Some(inner) = text.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')) else { return text };
    let mut depth = 0;
    for c in inner.chars() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        if depth < 0 {
            return text;
        }
    }
    bare(inner)
}

/// Parts between an operator outside of brackets and texts.
fn parts(text: &str, operator: &str) -> Vec<String> {
    let text = bare(text);
    let (mut parts, mut start, mut depth, mut quoted) = (Vec::new(), 0, 0, false);
    for (at, c) in text.char_indices() {
        match c {
            '"' => quoted = !quoted,
            _ if quoted => {}
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            _ if depth == 0 && at >= start && text[at..].starts_with(operator) => {
                parts.push(text[start..at].trim().to_owned());
                start = at + operator.len();
            }
            _ => {}
        }
    }
    parts.push(text[start..].trim().to_owned());
    parts
}

struct Comparison {
    left: String,
    operator: &'static str,
    right: String,
}

fn comparison(text: &str) -> Option<Comparison> {
    let operator = ["<=", ">=", "==", "!=", "<", ">", " in "].into_iter().find(|one| parts(text, one).len() == 2)?;
    let [left, right] = parts(text, operator).try_into().ok()?;
    Some(Comparison { left, operator, right })
}

/// What a condition is about: all but its limit.
fn about(text: &str) -> Option<(String, char)> {
    let Comparison { left, operator, .. } = comparison(text)?;
    Some((left, operator.trim().chars().next()?))
}

/// Where only the limit differs, or whether it belongs to what is taken.
fn compared(old: &Comparison, new: &Comparison, version: &Version) -> Option<Change> {
    let first = |of: &Comparison| of.operator.trim().chars().next();
    if old.left != new.left || first(old) != first(new) {
        return None;
    }
    let (mut change, mut told) = (Change::Same, false);
    for facts in facts(version) {
        // A family that does not say it, one of another form above all, tells nothing.
        let (Some((low, high)), Some((new_low, new_high))) =
            (value(&old.right, facts, version), value(&new.right, facts, version))
        else {
            continue;
        };
        told = true;
        let one = match old.operator {
            " in " if close(low, new_low) && close(high, new_high) => Change::Same,
            " in " if new_low <= low && new_high >= high => Change::Loosened,
            " in " if new_low >= low && new_high <= high => Change::Tightened,
            "<" | "<=" | ">" | ">=" => {
                match close(high, new_high) {
                    true if old.operator.len() == new.operator.len() => Change::Same,
                    // The limit itself is taken now, or no more.
                    true if new.operator.len() > old.operator.len() => Change::Loosened,
                    true => Change::Tightened,
                    false if (new_high > high) == old.operator.starts_with('<') => Change::Loosened,
                    false => Change::Tightened,
                }
            }
            _ => return None,
        };
        change = change.and(one);
    }
    told.then_some(change)
}

/// Where a name has no value before the job, and both sides say the same of it: only what is added to it or taken from it.
fn shifted(old: &Comparison, new: &Comparison, version: &Version) -> Option<Change> {
    let less = |of: &Comparison| of.operator.starts_with('<');
    let is_limit = |of: &Comparison| matches!(of.operator, "<" | "<=" | ">" | ">=");
    if !is_limit(old) || !is_limit(new) || less(old) != less(new) {
        return None;
    }
    let units = &version.stock.units;
    let (mut before, mut after) = (terms(old), terms(new));
    before.retain(|(plus, one)| match after.iter().position(|(sign, other)| sign == plus && same(one, other, units)) {
        Some(at) => {
            after.remove(at);
            false
        }
        None => true,
    });
    let (mut change, mut told) = (Change::Same, false);
    for facts in facts(version) {
        let sum = |terms: &[(bool, String)]| -> Option<f64> {
            terms
                .iter()
                .map(|(plus, term)| value(term, facts, version).map(|(one, _)| if *plus { one } else { -one }))
                .sum()
        };
        let (Some(was), Some(is)) = (sum(&before), sum(&after)) else { continue };
        told = true;
        change = change.and(match close(was, is) {
            true if old.operator.len() == new.operator.len() => Change::Same,
            true if new.operator.len() > old.operator.len() => Change::Loosened,
            true => Change::Tightened,
            // What stands on the left, less what stands on the right, has to be below zero, or above.
            false if (is < was) == less(old) => Change::Loosened,
            false => Change::Tightened,
        });
    }
    told.then_some(change)
}

/// What is added up on the left, less what is on the right: whether each counts as it stands, and its text.
fn terms(of: &Comparison) -> Vec<(bool, String)> {
    let side = |text: &str, counts: bool| -> Vec<(bool, String)> {
        let sum = |part: &str, counts: bool| -> Vec<(bool, String)> {
            let mut taken = parts(part, " - ").into_iter();
            let first = taken.next().map(|one| (counts, one));
            first.into_iter().chain(taken.map(|one| (!counts, one))).collect()
        };
        parts(text, " + ").iter().flat_map(|part| sum(part, counts)).collect()
    };
    side(&of.left, true).into_iter().chain(side(&of.right, false)).collect()
}

/// Facts of all families, each variant by itself; none at all where there is no family.
fn facts(version: &Version) -> Vec<Option<&Facts>> {
    let all: Vec<Option<&Facts>> = version
        .stock
        .families
        .values()
        .flat_map(|family| crate::families::variants(family).into_iter().map(|variant| Some(family.known(variant))))
        .collect();
    if all.is_empty() { vec![None] } else { all }
}

struct Known<'a>(Option<&'a Facts>);

impl Names for Known<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        match name {
            "spec" => self.0.map(|facts| Cow::Borrowed(&facts.values)),
            _ => None,
        }
    }

    fn all(&self, _name: &str) -> Vec<Value> {
        Vec::new()
    }
}

/// What a limit comes to, as its two ends; `None` where it hangs on what only a job shows, or the family does not say it.
fn value(text: &str, facts: Option<&Facts>, version: &Version) -> Option<(f64, f64)> {
    let scripts = &version.stock.scripts;
    let compiled = scripts.compile(&Script::new("<condition>", text)).ok()?;
    match scripts.evaluate(&compiled, &Known(facts)).ok()? {
        Value::Number(number) => Some((number, number)),
        Value::Quantity(one) => Some((one.si, one.si)),
        Value::Range(low, high) => Some((low.si, high.si)),
        _ => None,
    }
}

/// By what each leaves of the names in it.
fn implied(old: &str, new: &str, version: &Version) -> Change {
    let scripts = &version.stock.scripts;
    let compiled = |text: &str| scripts.compile(&Script::new("<condition>", text));
    let (Ok(before), Ok(after)) = (compiled(old), compiled(new)) else {
        return Change::Other;
    };
    let nothing = Scope::default();
    let view =
        View { stock: &version.stock, form: None, facts: None, shop: None, scope: &nothing, everything: &nothing };
    let follows =
        |one, other| scripts.infer_among(&[one], other, &view, &mut Problems::new()) == Shape::Truth(Some(true));
    match (follows(&before, &after), follows(&after, &before)) {
        (true, true) => Change::Same,
        (true, false) => Change::Loosened,
        (false, true) => Change::Tightened,
        (false, false) => Change::Other,
    }
}
