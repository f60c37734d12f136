//! What is known of a value before anybody types it: offered in full, and taken by one key or one tap.

use super::draft::{Draft, Stage};
use standpipe_job::{Prompt, PromptField};

/// A value as it would be typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offered {
    pub name: String,
    pub typed: String,
    /// The instrument whose scale ends there, as the shop file has it.
    pub of: Option<String>,
}

/// `lowest mark 2 N·m, highest mark 25 N·m`.
pub fn words(offered: &[Offered]) -> String {
    let all: Vec<String> = offered.iter().map(|it| format!("{} {}", it.name.replace('_', " "), it.typed)).collect();
    all.join(", ")
}

/// All that the shop file says of one instrument in this form.
pub fn ends_of(prompt: &Prompt, instrument: &str) -> Vec<Offered> {
    prompt.fields.iter().filter_map(|field| end(field, instrument)).collect()
}

/// The instruments of which the shop file says something here, in its order.
pub fn instruments(prompt: &Prompt) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for id in prompt.fields.iter().flat_map(|field| field.ends.keys()) {
        if !all.contains(&id.as_str()) {
            all.push(id);
        }
    }
    all
}

fn end(field: &PromptField, instrument: &str) -> Option<Offered> {
    let typed = field.ends.get(instrument)?;
    Some(Offered { name: field.name.clone(), typed: typed.clone(), of: Some(instrument.to_owned()) })
}

impl Draft {
    /// The value that is asked and those that follow, as far as something is known of each.
    pub fn offered(&self, prompt: &Prompt) -> Vec<Offered> {
        let of_stage = |stage: &Stage| match stage {
            Stage::Field(index) => self.offered_for(&prompt.fields[*index]),
            _ => None,
        };
        self.ahead().iter().map_while(of_stage).collect()
    }

    fn offered_for(&self, field: &PromptField) -> Option<Offered> {
        end(field, self.scales.get(field.end_of.as_ref()?)?.as_ref()?)
    }

    /// Takes all of it, and goes on to what is to be asked after that.
    pub fn take(&mut self, offered: &[Offered]) {
        for it in offered {
            self.typed.insert(it.name.clone(), it.typed.clone());
            if let Some(of) = &it.of {
                self.with.insert(it.name.clone(), of.clone());
            }
            self.next();
        }
    }
}
