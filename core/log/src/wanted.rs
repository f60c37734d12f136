//! What is looked for in a log. Which things those are, plugins say.

use indexmap::IndexMap;

use standpipe_yaml::At;

#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// Words in the heading of the column that holds the time.
    pub time: Vec<String>,
    pub columns: IndexMap<String, WantedColumn>,
}

#[derive(Clone, Debug)]
pub struct WantedColumn {
    pub title: String,
    /// None for a column of words.
    pub quantity: Option<String>,
    /// Words of a heading by which it is recognised.
    pub words: Vec<String>,
    /// Words of a heading that say it is something else.
    pub not: Vec<String>,
    pub required: bool,
    /// Readings that people enter of the same thing.
    pub entered: Option<Entered>,
    /// What its words stand for: `D` -> `d`, `drive`.
    pub stands_for: IndexMap<String, Vec<String>>,
}

/// What a column is held against.
#[derive(Clone, Debug)]
pub struct Entered {
    /// Names of readings of a job.
    pub names: Vec<At<String>>,
    /// How far apart the two may be, in base units.
    pub within: f64,
}

/// A heading without what differs from one export to the next.
pub(super) fn plain(heading: &str) -> Vec<String> {
    heading
        .to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

/// Whether a heading has the words of a phrase one after the other.
pub(super) fn has(heading: &[String], phrase: &str) -> bool {
    let phrase = plain(phrase);
    !phrase.is_empty() && heading.windows(phrase.len()).any(|part| part == phrase)
}

impl WantedColumn {
    pub(super) fn fits(&self, heading: &[String]) -> bool {
        self.words.iter().any(|phrase| has(heading, phrase)) && !self.not.iter().any(|phrase| has(heading, phrase))
    }
}
