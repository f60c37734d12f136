//! A filled form for one kind of thing, with what is different in its variants.

use indexmap::IndexMap;

use super::facts::{Facts, Origin};
use super::variant::Variant;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::value::Value;
use standpipe_yaml::At;

/// A checked family.
#[derive(Clone, Debug)]
pub struct Family {
    /// What it is called by.
    pub id: String,
    /// Id of the form that it fills.
    pub form: String,
    /// What people call it.
    pub title: Option<String>,
    /// It is not from the real world.
    pub invented: bool,
    /// What holds while the variant is not settled.
    pub unsettled: Facts,
    /// By id.
    pub variants: IndexMap<String, Variant>,
    /// Every table that it names.
    pub tables: Vec<At<String>>,
    /// Where its id stands.
    pub place: Place,
}

impl Family {
    /// The facts of a variant, or those that hold whatever the variant.
    pub fn known(&self, variant: Option<&str>) -> &Facts {
        variant.and_then(|id| self.variants.get(id)).map_or(&self.unsettled, |variant| &variant.facts)
    }

    /// As [`Self::known`], the values alone.
    pub fn facts(&self, variant: Option<&str>) -> Value {
        self.known(variant).values.clone()
    }

    /// Puts a value over the family's own, in one variant or in all of them, as an overlay does.
    pub fn set(&mut self, path: &str, value: &Value, origin: &Origin, variant: Option<&str>) {
        for (id, of) in &mut self.variants {
            if variant.is_none_or(|only| only == id) {
                of.facts.set(path, value.clone(), origin.clone());
            }
        }
        if self.variants.values().all(|of| of.facts.value(path) == Some(value)) {
            self.unsettled.set(path, value.clone(), origin.clone());
        } else {
            self.unsettled.put(path, Value::Unknown);
            self.unsettled.origins.shift_remove(path);
            self.unsettled.differs.push(path.to_owned());
        }
    }
}

/// What is the same in all variants; the rest is unknown until one is settled.
pub(super) fn unsettled(mut base: Facts, variants: &[Variant]) -> Facts {
    let mut paths: Vec<String> = Vec::new();
    for variant in variants {
        for (path, _) in variant.facts.leaves() {
            if !paths.contains(&path) {
                paths.push(path);
            }
        }
    }
    for path in paths {
        let Some(first) = variants.first() else { break };
        let value = first.facts.value(&path);
        if variants.iter().all(|variant| variant.facts.value(&path) == value) {
            if let (Some(value), None) = (value, base.origin(&path).filter(|_| base.value(&path) == value)) {
                base.put(&path, value.clone());
                if let Some(origin) = first.facts.origin(&path) {
                    base.origins.insert(path, origin.clone());
                }
            }
        } else {
            base.put(&path, Value::Unknown);
            base.origins.shift_remove(&path);
            base.differs.push(path);
        }
    }
    base
}
