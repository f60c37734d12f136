//! An expression in a YAML file, and which of its characters stands where in the file.

use std::fmt;
use std::ops::Range;

use serde::de::{Deserialize, Deserializer, Visitor};
use serde::{Serialize, Serializer};

use super::at::{Handed, SCRIPT, taken};
use super::fault::wrong_type;
use super::node::{Node, Style};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

/// The text of an expression with the place of each of its lines.
#[derive(Clone, Debug)]
pub struct Script {
    /// Without the line breaks at its end.
    pub text: String,
    /// The whole scalar in the file.
    pub place: Place,
    /// Byte offset in the source at which each line of `text` begins.
    pub lines: Vec<usize>,
}

impl Script {
    /// An expression that stands in no YAML file; `name` says what it is (`<argument 2>`).
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        let text = text.into();
        let source = Source::new(name, text.clone());
        let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Self { place: Place::new(&source, 0..text.len()), text, lines }
    }

    /// The place of a line and column of the script, both counted from 1 as the interpreter reports them; with 0 for
    /// "somewhere" the place is the whole script. The place covers the word that begins there.
    pub fn place_of(&self, line: usize, column: usize) -> Place {
        let Some(start) = line.checked_sub(1).and_then(|index| self.lines.get(index)) else {
            return self.place.clone();
        };
        let text = &self.place.source().text;
        let rest = text[*start..].lines().next().unwrap_or("");
        if column == 0 {
            return Place::new(self.place.source(), *start..start + rest.len());
        }
        let from = rest.char_indices().nth(column - 1).map_or(rest.len(), |(byte, _)| byte);
        let length = word_length(&rest[from..]);
        Place::new(self.place.source(), start + from..start + from + length)
    }

    /// The place of a byte range of `text`.
    pub fn place_of_bytes(&self, range: Range<usize>) -> Place {
        let start = self.file_byte(range.start);
        let end = self.file_byte(range.end).max(start);
        Place::new(self.place.source(), start..end)
    }

    fn file_byte(&self, byte: usize) -> usize {
        let byte = byte.min(self.text.len());
        let before = &self.text.as_bytes()[..byte];
        let line = before.iter().filter(|b| **b == b'\n').count();
        let column = before.iter().rev().take_while(|b| **b != b'\n').count();
        self.lines.get(line).map_or(self.place.range().end, |start| start + column)
    }
}

/// Bytes of the identifier or number that begins here; of the first character if it is neither.
fn word_length(text: &str) -> usize {
    let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
    if end > 0 { end } else { text.chars().next().map_or(0, char::len_utf8) }
}

/// Two files may say the same thing.
impl PartialEq for Script {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Serialize for Script {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

/// Takes a node as a script, if its style keeps the positions of an error.
pub(super) fn from_node(node: &Node) -> Result<Script, Box<Diagnostic>> {
    let Some(scalar) = node.as_scalar() else {
        return Err(Box::new(
            wrong_type(node, "an expression")
                .help("put an expression that begins with `[` or `{` in a `|` block below the key"),
        ));
    };
    let written = node.place.text();
    let refused = |message: &str, help: &str| {
        Err(Box::new(
            Diagnostic::error(Code::FoldedBlock, &block_mark(node), message)
                .expected("an expression on one line, or in a `|` block")
                .help(help),
        ))
    };
    let start = node.place.range().start;
    let text = scalar.text.trim_end_matches('\n').to_string();
    let lines = match scalar.style {
        Style::Folded => {
            return refused("a `>` block joins the lines of an expression", "write `|` instead of `>`");
        }
        Style::Literal if scalar.text.starts_with('\n') => {
            return refused(
                "an expression whose block begins with a blank line",
                "let the expression begin on the line after the `|`",
            );
        }
        Style::Literal => literal_lines(node, &text),
        _ if written.contains('\n') => {
            return refused(
                "an expression over several lines outside a `|` block",
                "write `|` after the colon and the expression below it",
            );
        }
        Style::Plain if goes_on_in_a_comment(node) => {
            return refused(
                "YAML takes ` #` for a comment, and the expression ends before it",
                "write the expression in a `|` block below the key, or in quotes",
            );
        }
        Style::Plain => vec![start],
        Style::SingleQuoted | Style::DoubleQuoted if written.get(1..written.len().saturating_sub(1)) == Some(&text) => {
            vec![start + 1]
        }
        _ => {
            return refused(
                "a quoted expression with escaped characters",
                "write it without quotes, or in a `|` block below the key",
            );
        }
    };
    let script = Script { text, place: node.place.clone(), lines };
    if agrees(&script) {
        Ok(script)
    } else {
        refused(
            "an expression in a block whose lines can't be traced back to the file",
            "write it on one line, or in a plain `|` block",
        )
    }
}

/// `f( #{ a: 1 })`: the map of the script is a comment to YAML, which says nothing about it.
fn goes_on_in_a_comment(node: &Node) -> bool {
    let rest = &node.place.source().text[node.place.range().end..];
    rest.lines().next().is_some_and(|line| line.trim_start().starts_with("#{"))
}

/// The `|` or `>` that a block begins with: the place of a block itself is its text.
fn block_mark(node: &Node) -> Place {
    let source = node.place.source();
    let before = &source.text[..node.place.range().start];
    let style = node.as_scalar().map(|scalar| scalar.style);
    let mark = match style {
        Some(Style::Literal) => before.rfind('|'),
        Some(Style::Folded) => before.rfind('>'),
        _ => None,
    };
    mark.map_or_else(|| node.place.clone(), |at| Place::new(source, at..at + 1))
}

fn literal_lines(node: &Node, text: &str) -> Vec<usize> {
    let source = &node.place.source().text;
    let start = node.place.range().start;
    let indent = start - source[..start].rfind('\n').map_or(0, |at| at + 1);
    let mut lines = vec![start];
    let mut at = start;
    for _ in 1..text.split('\n').count() {
        at = source[at..].find('\n').map_or(source.len(), |next| at + next + 1);
        let rest = &source[at..];
        let blank = rest.find(|c: char| c != ' ').unwrap_or(rest.len());
        lines.push(at + blank.min(indent));
    }
    lines
}

/// The guard behind every position we report: the file really reads so, line by line.
fn agrees(script: &Script) -> bool {
    let source = &script.place.source().text;
    script
        .text
        .split('\n')
        .zip(&script.lines)
        .all(|(line, start)| source.get(*start..).is_some_and(|rest| rest.starts_with(line)))
        && script.text.split('\n').count() == script.lines.len()
}

impl<'de> Deserialize<'de> for Script {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_newtype_struct(SCRIPT, ScriptVisitor)
    }
}

struct ScriptVisitor;

impl<'de> Visitor<'de> for ScriptVisitor {
    type Value = Script;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("an expression")
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, deserializer: D) -> Result<Script, D::Error> {
        match taken() {
            Some(Handed::Script(script)) => Ok(script),
            _ => {
                let node = Node::deserialize(deserializer)?;
                let text = node.as_text().ok_or_else(|| serde::de::Error::custom("expected an expression"))?;
                Ok(Script::new("<expression>", text.trim_end_matches('\n')))
            }
        }
    }
}
