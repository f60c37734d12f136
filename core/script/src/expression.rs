//! A compiled expression.

use rhai::AST;

use super::names::{ComparedText, Name};
use super::text::Text;
use standpipe_diagnostic::source::Place;

/// An expression, compiled once and evaluated as often as needed, by the [`Scripts`](super::Scripts) that compiled it.
pub struct Expression {
    pub(super) ast: AST,
    pub(super) text: Text,
    pub(super) names: Vec<Name>,
    pub(super) compared: Vec<ComparedText>,
}

impl Expression {
    /// Every value it mentions, in the order of the text, each mention by itself.
    pub fn names(&self) -> &[Name] {
        &self.names
    }

    /// Every comparison of a value with a literal text.
    pub fn compared_texts(&self) -> &[ComparedText] {
        &self.compared
    }

    pub fn place(&self) -> Place {
        self.text.whole()
    }
}

impl std::fmt::Debug for Expression {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Expression({})", self.place().text())
    }
}
