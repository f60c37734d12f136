//! What a job is about, as people call it on screens, cards, tags and lists.

use indexmap::IndexMap;

use crate::plan::Plan;
use standpipe_quantity::value::Value;

impl Plan {
    /// What the work is done on, in a few words: what is known of the paths that the form lists as its `subject`. Empty where
    /// it lists none, or nothing is known. `supplied` is what was supplied later, by path.
    pub fn subject(&self, supplied: &IndexMap<String, Value>) -> String {
        let facts = self.job_facts(supplied);
        words(&self.form.subject, &facts)
    }
}

fn words(paths: &[String], facts: &Value) -> String {
    let texts = paths.iter().filter_map(|path| match facts.at(&path.split('.').collect::<Vec<_>>()) {
        Some(Value::Text(text)) => Some(text.as_str()),
        _ => None,
    });
    texts.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests;
