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

    /// Those that say something of these columns or of the log as a whole.
    pub fn only(mut self, of: impl Fn(&str) -> bool) -> Self {
        let keeps = |name: &String| name == "time" || of(name);
        self.columns.retain(|name, _| keeps(name));
        self.units.retain(|name, _| keeps(name));
        self.words.retain(|name, _| keeps(name));
        self
    }

    /// As names and texts, for a journal.
    pub fn written(&self) -> IndexMap<String, String> {
        let mut said = IndexMap::new();
        said.extend(self.columns.iter().map(|(name, column)| (format!("column.{name}"), column.clone())));
        said.extend(self.units.iter().map(|(name, unit)| (format!("unit.{name}"), unit.clone())));
        for (name, words) in &self.words {
            said.extend(words.iter().map(|(cell, word)| (format!("word.{name}.{cell}"), word.clone())));
        }
        let mut one = |name: &str, text: Option<&str>| said.extend(text.map(|text| (name.to_owned(), text.to_owned())));
        one("decimal", self.decimal.map(DecimalSign::words));
        one("delimiter", self.delimiter.map(super::understood::delimiter_words));
        one("encoding", self.encoding.map(Encoding::words));
        one("time", self.time.map(TimeForm::words));
        said
    }

    /// What was written by [`Self::written`]; none where it is something else.
    pub fn of_written(said: &IndexMap<String, String>) -> Option<Self> {
        let mut choices = Self::default();
        for (name, text) in said {
            match (name.as_str(), name.split_once('.')) {
                ("decimal", _) => choices.decimal = Some(DecimalSign::parse(text)?),
                ("delimiter", _) => choices.delimiter = Some(super::mapping::delimiter(text)?),
                ("encoding", _) => choices.encoding = Some(Encoding::parse(text)?),
                ("time", _) => choices.time = Some(TimeForm::parse(text)?),
                (_, Some(("column", name))) => drop(choices.columns.insert(name.to_owned(), text.clone())),
                (_, Some(("unit", name))) => drop(choices.units.insert(name.to_owned(), text.clone())),
                (_, Some(("word", rest))) => {
                    let (name, cell) = rest.split_once('.')?;
                    choices.words.entry(name.to_owned()).or_default().insert(cell.to_owned(), text.clone());
                }
                _ => return None,
            }
        }
        Some(choices)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_comes_back() {
        let one = |name: &str, text: &str| IndexMap::from([(name.to_owned(), text.to_owned())]);
        let choices = Choices {
            columns: one("kiln", "Kiln. left"),
            units: one("kiln", "degC"),
            decimal: Some(DecimalSign::Comma),
            delimiter: Some(b'\t'),
            encoding: Some(Encoding::Utf16Le),
            time: Some(TimeForm::Elapsed),
            words: IndexMap::from([("burner".to_owned(), one("1.5", "low"))]),
        };
        assert_eq!(Choices::of_written(&choices.written()), Some(choices));
        assert_eq!(Choices::of_written(&one("colour", "red")), None);
    }
}
