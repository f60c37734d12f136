//! Facts of family, job and shop, as expressions and placeholders see them.

use indexmap::IndexMap;

use super::Plan;
use super::accuracies::accuracies;
use standpipe_form::{Recognised, recognise};
use standpipe_library::{Accuracy, Shop};
use standpipe_procedure::{Children, FieldKind, Procedure, Step};
use standpipe_quantity::value::Value;

/// A supplied value that its field does not take.
#[derive(Clone, Debug)]
pub struct Unfit {
    pub message: String,
    pub expected: Option<String>,
    pub help: Option<String>,
}

/// `shop`: its own facts, how many people it has, its rates and instruments.
pub(super) fn shop_facts(shop: &Shop, procedures: &IndexMap<String, Procedure>) -> Value {
    let mut facts: IndexMap<String, Value> = shop.facts.clone();
    facts.insert("people_count".to_owned(), Value::Number(shop.people.len() as f64));
    facts.insert("rates".to_owned(), Value::Record(shop.rates.clone()));
    let instruments = shop
        .instruments
        .iter()
        .map(|(id, instrument)| {
            let mut known = IndexMap::from([("kind".to_owned(), Value::Text(instrument.kind.clone()))]);
            if let Some((low, high)) = &instrument.range {
                known.insert("range".to_owned(), Value::Range(low.clone(), high.clone()));
            }
            match &instrument.accuracy {
                Some(Accuracy::OfReading(share)) => {
                    known.insert("accuracy".to_owned(), Value::Number(*share));
                }
                Some(Accuracy::Fixed(error)) => {
                    known.insert("accuracy".to_owned(), Value::Quantity(error.clone()));
                }
                None => {}
            }
            if let Some(step) = &instrument.resolution {
                known.insert("resolution".to_owned(), Value::Quantity(step.clone()));
            }
            (id.replace('-', "_"), Value::Record(known))
        })
        .collect();
    facts.insert("instruments".to_owned(), Value::Record(instruments));
    facts.insert("accuracy".to_owned(), accuracies(shop, procedures.values()));
    Value::Record(facts)
}

impl Plan {
    /// `spec`: the family's facts for a variant, or those that all variants share, with what was supplied since.
    pub fn facts(&self, variant: Option<&str>, supplied: &IndexMap<String, Value>) -> Value {
        let mut facts = self.family.facts(variant);
        // What is known stands: corrected data may say what somebody had supplied before.
        overlay(&mut facts, "spec.", supplied, |known| known.is_unknown());
        facts
    }

    /// `job`: the facts of the job file, with what was supplied since.
    pub fn job_facts(&self, supplied: &IndexMap<String, Value>) -> Value {
        let mut facts = self.job.facts.clone();
        overlay(&mut facts, "job.", supplied, |_| true);
        facts
    }

    /// Reads a value that somebody supplies for `spec.x` or `job.x`.
    pub fn read_fact(&self, path: &str, typed: &str) -> Result<Value, Unfit> {
        let unfit = |message: String| Unfit { message, expected: None, help: None };
        let field = match path.split_once('.') {
            Some(("spec", rest)) => self.form.field(rest),
            Some(("job", rest)) => self.form.job_field(rest),
            _ => None,
        };
        let field = field.ok_or_else(|| unfit(format!("`{path}` is not a field of the form `{}`", self.form.id)))?;
        field.read(typed, &self.units).map_err(|fault| Unfit {
            message: format!("`{path}`: {}", fault.message),
            expected: Some(field.expected()),
            help: fault.help,
        })
    }

    /// Every reading that is a sign, with the sign it is.
    pub fn sign_names(&self) -> Vec<(String, String)> {
        fn walk(steps: &[Step], found: &mut Vec<(String, String)>) {
            for step in steps {
                for field in step.kind.fields() {
                    if let FieldKind::Sign(sign) = &field.kind {
                        found.push((field.name.value.clone(), sign.clone()));
                    }
                }
                if let Children::Steps(children) = step.kind.children() {
                    walk(children, found);
                }
            }
        }
        let mut found = Vec::new();
        for procedure in self.procedures.values() {
            walk(&procedure.steps, &mut found);
        }
        found
    }

    pub fn recognise(&self, signs: &IndexMap<String, Value>) -> Recognised {
        recognise(&self.family, signs)
    }

    pub fn sign_question(&self, sign: &str) -> Option<String> {
        self.form.signs.get(sign)?.ask.clone()
    }

    /// What a sign can be, where the form lists it.
    pub fn sign_options(&self, sign: &str) -> Vec<String> {
        self.form.signs.get(sign).map(|sign| sign.options()).unwrap_or_default()
    }
}

fn part<'a>(record: &'a Value, path: &[&str]) -> Option<&'a Value> {
    path.iter().try_fold(record, |record, name| match record {
        Value::Record(fields) => fields.get(*name),
        _ => None,
    })
}

/// Puts values under dotted paths into a record, where what stands there `yields`.
fn overlay(record: &mut Value, prefix: &str, supplied: &IndexMap<String, Value>, yields: impl Fn(&Value) -> bool) {
    for (path, value) in supplied {
        let Some(path) = path.strip_prefix(prefix) else { continue };
        let parts: Vec<&str> = path.split('.').collect();
        if part(record, &parts).is_none_or(&yields) {
            put(record, &parts, value);
        }
    }
}

fn put(record: &mut Value, path: &[&str], value: &Value) {
    let (Value::Record(fields), Some((first, rest))) = (record, path.split_first()) else { return };
    if rest.is_empty() {
        fields.insert((*first).to_owned(), value.clone());
    } else {
        put(fields.entry((*first).to_owned()).or_insert_with(|| Value::Record(IndexMap::new())), rest, value);
    }
}
