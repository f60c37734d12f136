//! What `read` and `pick` have in common: values that a person enters, all at once.

use super::{Ask, Kind, Next, Progress};
use crate::field::Field;
use standpipe_yaml::At;

#[derive(Debug)]
pub(super) struct Entered {
    pub word: &'static str,
    pub fields: Vec<Field>,
    pub summary: String,
}

impl Kind for Entered {
    fn word(&self) -> &'static str {
        self.word
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.done.contains("") { Next::Done } else { Next::Ask(Ask::fields(&self.fields)) }
    }

    fn gives(&self) -> Vec<&At<String>> {
        self.fields.iter().map(|field| &field.name).collect()
    }

    fn fields(&self) -> &[Field] {
        &self.fields
    }

    fn summary(&self) -> String {
        self.summary.clone()
    }
}
