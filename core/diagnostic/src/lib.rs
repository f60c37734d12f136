#![doc = include_str!("../README.md")]

pub mod columns;
pub mod source;

use serde::Serialize;

use crate::source::Place;

mod code;
mod human;
mod json;
mod near;
mod page;
mod short;

pub use code::Code;
pub use human::{Look, human};
pub use json::json;
pub use near::{Mend, Near, nearest, one_slip};
pub use page::Page;
pub use short::short;

/// How grave a message is; the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// What it is about can't be relied on.
    Error,
    /// It can be used, and is probably not as meant.
    Warning,
    /// Nothing is wrong; something is worth knowing.
    Note,
}

/// One message. Every diagnostic has a permanent code and at least one place.
#[derive(Clone, Debug, Serialize)]
#[must_use = "a message that nobody gets"]
pub struct Diagnostic {
    /// What kind of fault it is; permanent.
    pub code: Code,
    /// How grave it is.
    pub severity: Severity,
    /// What was found, in one line, without a full stop.
    pub message: String,
    /// Where it was found.
    pub place: Place,
    /// A few words under the marked span.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub label: String,
    /// Further places that belong to it, each with a few words ("first defined here").
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Related>,
    /// What was expected, where that says more than the message.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<String>,
    /// What to do; must work when followed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub help: Option<String>,
    /// How many messages that may follow from it are not shown.
    #[serde(skip_serializing_if = "is_none")]
    pub follow: usize,
    /// What it is said of, for what folds messages.
    #[serde(skip)]
    pub about: Option<About>,
    /// The name that was most likely meant.
    #[serde(skip)]
    pub meant: Option<String>,
    /// A change that is certain to be meant.
    #[serde(skip)]
    pub mend: Option<Mend>,
}

/// What a message is said of, where other messages may be its cause.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum About {
    /// A document, by its id.
    Document(String),
    /// Something that is not there, or not alone: a key beside it that is not understood may be it.
    Absent,
}

fn is_none(count: &usize) -> bool {
    *count == 0
}

/// Another place that belongs to a message.
#[derive(Clone, Debug, Serialize)]
pub struct Related {
    /// Where it is.
    pub place: Place,
    /// What is there, in a few words.
    pub label: String,
}

impl Diagnostic {
    /// A message of what is wrong at a place.
    pub fn error(code: Code, place: &Place, message: impl Into<String>) -> Self {
        Self {
            code,
            severity: Severity::Error,
            message: cut(message.into()),
            place: place.clone(),
            label: String::new(),
            also: Vec::new(),
            expected: None,
            help: None,
            follow: 0,
            about: None,
            meant: None,
            mend: None,
        }
    }

    /// A message of what is probably not as meant.
    pub fn warning(code: Code, place: &Place, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, place, message) }
    }

    /// With a few words under the marked span.
    pub fn label(mut self, label: impl Into<String>) -> Self {
        self.label = cut(label.into());
        self
    }

    /// With another place that belongs to it.
    pub fn also(mut self, place: &Place, label: impl Into<String>) -> Self {
        self.also.push(Related { place: place.clone(), label: cut(label.into()) });
        self
    }

    /// With what was expected there.
    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = Some(cut(expected.into()));
        self
    }

    /// With what to do about it.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(cut(help.into()));
        self
    }

    /// Said of a document, by its id: where that can't be used, this says nothing.
    pub fn speaks_of(mut self, id: &str) -> Self {
        self.about = Some(About::Document(id.to_owned()));
        self
    }

    /// Said of what is not there, or not alone.
    pub fn absent(mut self) -> Self {
        self.about = Some(About::Absent);
        self
    }

    /// Whether it is an error, neither a warning nor a note.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

/// Bytes that are quoted of whatever a file or a script has to say: a word of a megabyte helps nobody.
const LONGEST: usize = 2_000;

fn cut(mut text: String) -> String {
    if text.len() > LONGEST {
        let all = text.len();
        let end = (0..=LONGEST).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
        text.truncate(end);
        text.push_str(&format!("… ({all} bytes in all)"));
    }
    text
}

/// Collects what one run finds, so that a run reports everything it can.
pub type Problems = Vec<Diagnostic>;

/// In the order of a reader: by file, by place, the graver first.
pub fn sorted(problems: &[Diagnostic]) -> Vec<&Diagnostic> {
    let mut sorted: Vec<&Diagnostic> = problems.iter().collect();
    sorted.sort_by(|a, b| {
        let key = |d: &Diagnostic| (d.place.range().start, d.severity, d.code);
        a.place.name().cmp(b.place.name()).then_with(|| key(a).cmp(&key(b)))
    });
    sorted
}

/// Whether anything worse than a warning is among them.
pub fn has_errors(problems: &[Diagnostic]) -> bool {
    problems.iter().any(Diagnostic::is_error)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Source;

    #[test]
    fn what_is_quoted_is_cut() {
        let (place, long) = (Place::whole(&Source::new("a.yaml", "")), "ä".repeat(1 << 20));
        let problem = Diagnostic::error(Code::UnknownKey, &place, long.as_str())
            .label(long.as_str())
            .also(&place, long.as_str())
            .expected(long.as_str())
            .help(long.as_str());
        let written = serde_json::to_string(&problem).unwrap();
        assert!(written.len() < 6 * LONGEST, "{}", written.len());
        assert!(problem.message.ends_with("… (2097152 bytes in all)"), "{}", problem.message);
    }
}
