//! Texts and the places in them.
//!
//! A [`Place`] keeps its text alive, so a message can show the line it speaks of long after the file was read,
//! and a value can travel from a plugin to a journal without losing where it came from.

use std::borrow::Cow;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

/// One text that was read: a file, an argument, a line somebody typed.
#[derive(Debug, PartialEq, Eq)]
pub struct Source {
    /// What to call it in a message: a path relative to its plugin or to the working folder, or `<argument 2>`.
    pub name: String,
    /// All of it, with whatever line ends it has.
    pub text: String,
}

impl Source {
    /// A text with the name by which messages call it.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Arc<Self> {
        Arc::new(Self { name: name.into(), text: text.into() })
    }
}

/// A stretch of bytes in a text.
#[derive(Clone, PartialEq, Eq)]
pub struct Place {
    source: Arc<Source>,
    start: usize,
    end: usize,
}

impl Place {
    /// A place from a byte range; a range beyond the text, or inside a character, is moved to the nearest sound one.
    pub fn new(source: &Arc<Source>, range: Range<usize>) -> Self {
        let start = floor_char(&source.text, range.start);
        let end = floor_char(&source.text, range.end).max(start);
        Self { source: source.clone(), start, end }
    }

    /// The text as a whole, for what has no better place (a file that lacks something).
    pub fn whole(source: &Arc<Source>) -> Self {
        Self { source: source.clone(), start: 0, end: 0 }
    }

    /// The text that it lies in.
    pub fn source(&self) -> &Arc<Source> {
        &self.source
    }

    /// The name of the text.
    pub fn name(&self) -> &str {
        &self.source.name
    }

    /// Its bytes in the text.
    pub fn range(&self) -> Range<usize> {
        self.start..self.end
    }

    /// The slice of text that the place covers.
    pub fn text(&self) -> &str {
        &self.source.text[self.start..self.end]
    }

    /// Line of the first byte, counted from 1.
    pub fn line(&self) -> usize {
        self.source.text[..self.start].bytes().filter(|b| *b == b'\n').count() + 1
    }

    /// Column of the first byte in characters, counted from 1.
    pub fn column(&self) -> usize {
        let line_start = self.source.text[..self.start].rfind('\n').map_or(0, |i| i + 1);
        self.source.text[line_start..self.start].chars().count() + 1
    }

    /// A place inside this one, by byte offsets from its start.
    pub fn slice(&self, range: Range<usize>) -> Self {
        Self::new(&self.source, self.start + range.start..(self.start + range.end).min(self.end.max(self.start)))
    }

    /// The line that a version control left where it could not merge two versions, if there is one.
    pub fn of_merge(source: &Arc<Source>) -> Option<Self> {
        if !source.text.contains("<<<<<<< ") && !source.text.contains(">>>>>>> ") {
            return None;
        }
        let mut start = 0;
        for line in source.text.split_inclusive('\n') {
            if line.starts_with("<<<<<<< ") || line.starts_with(">>>>>>> ") {
                return Some(Self::new(source, start..start + line.trim_end().len()));
            }
            start += line.len();
        }
        None
    }

    /// From the start of this place to the end of the other.
    pub fn to(&self, other: &Place) -> Self {
        Self { source: self.source.clone(), start: self.start, end: other.end.max(self.end) }
    }
}

fn floor_char(text: &str, index: usize) -> usize {
    let mut index = index.min(text.len());
    while !text.is_char_boundary(index) {
        index -= 1;
    }
    index
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.name(), self.line(), self.column())
    }
}

impl fmt::Debug for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

impl JsonSchema for Place {
    fn schema_name() -> Cow<'static, str> {
        "Place".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "object",
            "properties": {
                "file": { "type": "string" },
                "line": { "type": "integer" },
                "column": { "type": "integer" }
            },
            "required": ["file", "line", "column"]
        })
    }
}

impl Serialize for Place {
    /// `{"file", "line", "column"}`, as every message in JSON carries it.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut out = serializer.serialize_struct("Place", 3)?;
        out.serialize_field("file", self.name())?;
        out.serialize_field("line", &self.line())?;
        out.serialize_field("column", &self.column())?;
        out.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_counts_lines_from_one_and_columns_in_characters() {
        let source = Source::new("a.yaml", "eins\n±zwei\n");
        let place = Place::new(&source, 7..11);
        assert_eq!((place.line(), place.column(), place.text()), (2, 2, "zwei"));
        assert_eq!(place.to_string(), "a.yaml:2:2");
    }

    #[test]
    fn a_range_beyond_the_text_or_inside_a_character_is_moved_not_a_panic() {
        let source = Source::new("a.yaml", "°C");
        assert_eq!(Place::new(&source, 1..99).range(), 0..3);
        assert_eq!(Place::new(&source, 50..99).text(), "");
    }
}
