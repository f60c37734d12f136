#![doc = include_str!("../README.md")]

mod access;
mod any_node;
mod at;
mod deserialize;
mod fault;
mod node;
mod number;
mod parse;
mod reading;
mod refuse;
mod scan_fault;
mod schema;
mod script;
mod sources;
pub mod told;
mod unknown_key;
mod write;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use serde::de::DeserializeOwned;

pub use at::At;
pub use node::{Kind, Node, Scalar, Style};
pub use script::Script;
pub use sources::{RawSource, Sources};
pub use write::write;

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// A document that was parsed, for those who look into it before they read it.
pub struct Parsed {
    parsed: Option<parse::Parsed>,
    problems: Problems,
}

impl Parsed {
    pub fn new(source: &Arc<Source>) -> Self {
        let mut problems = Problems::new();
        let parsed = parse::parse(source, &mut problems);
        Self { parsed, problems }
    }

    /// Its root; `None` if what stands there could not be relied on.
    pub fn root(&self) -> Option<&Node> {
        self.parsed.as_ref().filter(|parsed| parsed.sound).map(|parsed| &parsed.root)
    }

    /// As [`read`].
    pub fn read<T: DeserializeOwned>(self, problems: &mut Problems) -> Option<T> {
        let before = problems.len();
        problems.extend(self.problems);
        let value = self.parsed.and_then(|parsed| {
            let mut of_types = Problems::new();
            let value = reading::read_tree(&parsed.root, &mut of_types);
            keep_one_of_each(problems, before, of_types);
            value.filter(|_| parsed.sound)
        });
        sort_new(problems, before);
        value
    }
}

/// Reads a whole document as `T`, adding all that is wrong to `problems`.
///
/// `None` if what was read could not be relied on. `Some` with new problems happens for unknown keys and keys that
/// stand twice: `T` is sound apart from them, so that checks of its content can go on, but the file is not.
pub fn read<T: DeserializeOwned>(source: &Arc<Source>, problems: &mut Problems) -> Option<T> {
    Parsed::new(source).read(problems)
}

/// Reads a part of a document that was parsed before.
pub fn read_node<T: DeserializeOwned>(node: &Node, problems: &mut Problems) -> Option<T> {
    let before = problems.len();
    let value = reading::read_tree(node, problems);
    sort_new(problems, before);
    value
}

/// Parses without asking for any shape. `None` as for [`read`].
pub fn parse(source: &Arc<Source>, problems: &mut Problems) -> Option<Node> {
    let before = problems.len();
    let parsed = parse::parse(source, problems);
    sort_new(problems, before);
    parsed.filter(|parsed| parsed.sound).map(|parsed| parsed.root)
}

/// What was refused as YAML mostly has the wrong type too. One message is enough: that on the wider place, as text that
/// begins with a brace is better told so than that its first word lacks a value.
fn keep_one_of_each(problems: &mut Problems, before: usize, of_types: Problems) {
    let within = |inner: &Diagnostic, outer: &Diagnostic| {
        let (inner, outer) = (inner.place.range(), outer.place.range());
        outer.start == inner.start || outer.start < inner.start && inner.end <= outer.end
    };
    for problem in of_types {
        let of_type = matches!(problem.code, Code::WrongShape | Code::FoldedBlock);
        // No key at all: a comma cut a text in two, which has been said.
        let at = |refused: &&Diagnostic| refused.place.range().start == problem.place.range().start;
        let cut = problems[before..].iter().any(|refused| refused.code == Code::WrongShape && at(&refused));
        if problem.code == Code::UnknownKey && cut {
            continue;
        }
        if of_type && problems[before..].iter().any(|refused| within(&problem, refused)) {
            continue;
        }
        if of_type {
            let mut index = 0;
            problems.retain(|refused| {
                index += 1;
                index <= before || refused.code != Code::WrongShape || !within(refused, &problem)
            });
        }
        problems.push(problem);
    }
}

fn sort_new(problems: &mut Problems, before: usize) {
    problems[before..].sort_by_key(|problem| problem.place.range().start);
}
