//! Figures of a family: what each was and is, and on whose authority.

use indexmap::IndexSet;

use super::{Found, Way};
use crate::families::variants;
use standpipe_form::{Facts, Family};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Style, close};

impl Found<'_> {
    pub(super) fn family(&mut self, old: &Family, new: &Family) {
        for id in old.variants.keys().filter(|id| !new.variants.contains_key(*id)) {
            self.add(Way::Open, format!("the variant `{id}` is gone"), Some(&old.variants[id].place), None);
        }
        for id in new.variants.keys().filter(|id| !old.variants.contains_key(*id)) {
            self.add(Way::Open, format!("the variant `{id}` is new"), None, Some(&new.variants[id].place));
        }
        for (id, variant) in &new.variants {
            let Some(before) = old.variants.get(id) else { continue };
            let signs = |of: &standpipe_form::Variant| -> Vec<String> {
                of.signs.iter().map(|(sign, value)| format!("{sign} {}", value.words())).collect()
            };
            let (was, is) = (signs(before).join(", "), signs(variant).join(", "));
            if was != is {
                let what = format!("the variant `{id}` is recognised by other signs: {was} -> {is}");
                self.add(Way::Open, what, Some(&before.place), Some(&variant.place));
            }
        }
        // One message for what all variants have alike.
        let mut told: IndexSet<(String, String, String)> = IndexSet::new();
        for variant in variants(new) {
            if variant.is_some_and(|id| !old.variants.contains_key(id)) {
                continue;
            }
            self.facts(old.known(variant), new.known(variant), variant, &mut told);
        }
    }

    fn facts(
        &mut self,
        old: &Facts,
        new: &Facts,
        variant: Option<&str>,
        told: &mut IndexSet<(String, String, String)>,
    ) {
        let paths: IndexSet<String> = old.leaves().into_iter().chain(new.leaves()).map(|(path, _)| path).collect();
        for path in paths {
            let (was, is) = (old.value(&path), new.value(&path));
            let source = |facts: &Facts| {
                facts.origin(&path).and_then(|origin| origin.source.as_ref()).map(|source| source.from.clone())
            };
            let (from_old, from_new) = (source(old), source(new));
            let alike = matches!((was, is), (Some(was), Some(is)) if same(was, is)) || was.is_none() && is.is_none();
            if alike && from_old == from_new {
                continue;
            }
            let show = |value: Option<&Value>| {
                value.map_or("nothing".to_owned(), |value| self.units.show_value(value, &Style::default()))
            };
            let (before, after) = (show(was), show(is));
            if !told.insert((path.clone(), before.clone(), after.clone())) {
                continue;
            }
            let from = from_new.map_or("without a source".to_owned(), |from| format!("from {from}"));
            let (way, what) = match alike {
                true => (Way::Words, format!("the source of `{path}` changed: {from}")),
                false => {
                    let (way, how) = direction(was, is);
                    (way, format!("`{path}`{how} {before} -> {after}, {from}"))
                }
            };
            let what = match variant {
                Some(id) if told.iter().filter(|(known, ..)| *known == path).count() > 1 => {
                    format!("variant {id}: {what}")
                }
                _ => what,
            };
            let place = |facts: &Facts| facts.origin(&path).map(|origin| origin.place.clone());
            self.add(way, what, place(old).as_ref(), place(new).as_ref());
        }
    }
}

/// A range that takes more lets more through.
fn direction(was: Option<&Value>, is: Option<&Value>) -> (Way, &'static str) {
    match (was, is) {
        (Some(Value::Range(low, high)), Some(Value::Range(new_low, new_high))) => {
            match (new_low.si <= low.si && new_high.si >= high.si, new_low.si >= low.si && new_high.si <= high.si) {
                (true, _) => (Way::Easier, " takes more:"),
                (_, true) => (Way::Harder, " takes less:"),
                _ => (Way::Open, ":"),
            }
        }
        _ => (Way::Open, ":"),
    }
}

fn same(was: &Value, is: &Value) -> bool {
    match (was, is) {
        (Value::Quantity(a), Value::Quantity(b)) => a.dimension == b.dimension && close(a.si, b.si),
        (Value::Number(a), Value::Number(b)) => close(*a, *b),
        (Value::Range(a, b), Value::Range(c, d)) => close(a.si, c.si) && close(b.si, d.si),
        _ => was == is,
    }
}
