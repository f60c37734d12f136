//! The tree that a marked parse gives: every node knows the bytes it was written in.

use std::sync::Arc;

use crate::At;
use standpipe_diagnostic::source::{Place, Source};

/// A scalar, a list or a map, with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// What it is, with what is in it.
    pub kind: Kind,
    /// All of it: for a map from its first key to the end of its last value.
    pub place: Place,
}

/// What a node is.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A text, as yet without a type.
    Scalar(Scalar),
    /// A list.
    List(Vec<Node>),
    /// Keys with their values, in the order of the file.
    Map(Vec<(At<String>, Node)>),
}

/// Text exactly as written (`8.50` stays `8.50`), and how it was quoted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scalar {
    /// What was written, without quotes.
    pub text: String,
    /// How it was quoted.
    pub style: Style,
}

/// How a text was quoted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// Without quotes.
    Plain,
    /// `'text'`
    SingleQuoted,
    /// `"text"`
    DoubleQuoted,
    /// A `|` block.
    Literal,
    /// A `>` block.
    Folded,
}

impl Node {
    /// Text that stands in no file (a default, a value from elsewhere).
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        let source = Source::new("<text>", text.clone());
        Self { place: Place::new(&source, 0..text.len()), kind: Kind::Scalar(Scalar { text, style: Style::Plain }) }
    }

    /// The scalar, if it is one.
    pub fn as_scalar(&self) -> Option<&Scalar> {
        match &self.kind {
            Kind::Scalar(scalar) => Some(scalar),
            _ => None,
        }
    }

    /// The text of a scalar.
    pub fn as_text(&self) -> Option<&str> {
        self.as_scalar().map(|scalar| scalar.text.as_str())
    }

    /// The items of a list.
    pub fn as_list(&self) -> Option<&[Node]> {
        match &self.kind {
            Kind::List(items) => Some(items),
            _ => None,
        }
    }

    /// The keys of a map.
    pub fn as_map(&self) -> Option<&[(At<String>, Node)]> {
        match &self.kind {
            Kind::Map(entries) => Some(entries),
            _ => None,
        }
    }

    /// The value of a key of a map.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.entry(key).map(|(_, value)| value)
    }

    /// Key and value, where the key's own place is wanted.
    pub fn entry(&self, key: &str) -> Option<&(At<String>, Node)> {
        self.as_map()?.iter().find(|(name, _)| name.value == key)
    }

    /// A place to point at when the node lacks something: a block map is shown by its first key, not as twenty lines.
    pub fn head(&self) -> Place {
        match &self.kind {
            Kind::Map(entries) if self.place.text().contains('\n') => {
                entries.first().map_or_else(|| self.place.clone(), |(key, _)| key.place.clone())
            }
            Kind::List(items) if self.place.text().contains('\n') => {
                items.first().map_or_else(|| self.place.clone(), Node::head)
            }
            _ => self.place.clone(),
        }
    }

    /// The place of the text alone, without its quotes, where text and file read the same; else that of the node.
    pub fn text_place(&self) -> Place {
        let written = self.place.text();
        let inner = 1..written.len().saturating_sub(1).max(1);
        match &self.kind {
            Kind::Scalar(scalar) if !scalar.is_plain() && written.get(inner.clone()) == Some(&scalar.text) => {
                self.place.slice(inner)
            }
            _ => self.place.clone(),
        }
    }

    /// What it is, in words for a message: "a list", "the number 3", "the text `x`".
    pub fn described(&self) -> String {
        match &self.kind {
            Kind::List(_) => "a list".into(),
            Kind::Map(_) => "a map of keys".into(),
            Kind::Scalar(scalar) => scalar.described(),
        }
    }
}

impl Scalar {
    /// Whether it was written without quotes.
    pub fn is_plain(&self) -> bool {
        self.style == Style::Plain
    }

    fn described(&self) -> String {
        let shown: String = match self.text.char_indices().nth(40) {
            Some((cut, _)) => format!("{}...", &self.text[..cut]),
            None => self.text.clone(),
        };
        let shown = shown.replace('\n', " ");
        match self.style {
            Style::Plain if self.text == "true" || self.text == "false" => format!("`{shown}`"),
            Style::Plain if super::number::is_number(&self.text) => format!("the number {shown}"),
            Style::SingleQuoted | Style::DoubleQuoted => format!("the quoted text \"{shown}\""),
            _ => format!("the text `{shown}`"),
        }
    }
}

/// Where a value came from that no YAML reader placed.
pub(super) fn nowhere() -> Place {
    Place::whole(&Source::new("<value>", String::new()))
}

/// Turns the character counts of the scanner into bytes.
pub(super) struct Offsets {
    /// Byte offset of each character, absent where both counts agree.
    bytes: Option<Vec<usize>>,
    skipped: usize,
    end: usize,
}

impl Offsets {
    /// `skipped`: bytes before the text that the scanner was given.
    pub(super) fn new(source: &Arc<Source>, skipped: usize) -> Self {
        let text = &source.text[skipped..];
        let bytes = (!text.is_ascii()).then(|| text.char_indices().map(|(byte, _)| byte).collect());
        Self { bytes, skipped, end: source.text.len() }
    }

    pub(super) fn byte(&self, index: usize) -> usize {
        match &self.bytes {
            None => (self.skipped + index).min(self.end),
            Some(bytes) => bytes.get(index).map_or(self.end, |byte| self.skipped + byte),
        }
    }
}
