//! What a person said about a log, so that it need not be asked.

use indexmap::IndexMap;

use super::{DecimalSign, Encoding};

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// The heading of the column that holds a wanted thing; `#3` is the third column. `time` is one of the names.
    pub columns: IndexMap<String, String>,
    /// The unit of a wanted thing, or of `time` where it is a number.
    pub units: IndexMap<String, String>,
    pub decimal: Option<DecimalSign>,
    pub delimiter: Option<u8>,
    pub encoding: Option<Encoding>,
    pub time: Option<TimeForm>,
    /// What a cell of a column with words stands for: `gear` -> `3` -> `D`.
    pub words: IndexMap<String, IndexMap<String, String>>,
}

/// How moments are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeForm {
    /// Time of the day.
    Clock,
    /// Time since the start, as a number or as hours, minutes and seconds.
    Elapsed,
    /// Date and time.
    Date,
}

impl TimeForm {
    pub fn words(self) -> &'static str {
        match self {
            TimeForm::Clock => "clock",
            TimeForm::Elapsed => "elapsed",
            TimeForm::Date => "date",
        }
    }

    pub fn parse(text: &str) -> Option<Self> {
        [TimeForm::Clock, TimeForm::Elapsed, TimeForm::Date].into_iter().find(|form| form.words() == text)
    }
}

impl Choices {
    /// These, and where they say nothing, those of another.
    pub fn over(mut self, other: &Choices) -> Self {
        fn fill<V: Clone>(into: &mut IndexMap<String, V>, from: &IndexMap<String, V>) {
            for (name, value) in from {
                into.entry(name.clone()).or_insert_with(|| value.clone());
            }
        }
        fill(&mut self.columns, &other.columns);
        fill(&mut self.units, &other.units);
        for (name, words) in &other.words {
            fill(self.words.entry(name.clone()).or_default(), words);
        }
        self.decimal = self.decimal.or(other.decimal);
        self.delimiter = self.delimiter.or(other.delimiter);
        self.encoding = self.encoding.or(other.encoding);
        self.time = self.time.or(other.time);
        self
    }
}
