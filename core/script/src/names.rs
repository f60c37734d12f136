//! Where expressions get their values from, and what can come of it.

use std::borrow::Cow;
use std::error::Error;
use std::fmt;
use std::sync::Arc;

use standpipe_diagnostic::Diagnostic;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::series::Series;
use standpipe_quantity::value::Value;

/// What an expression's names stand for at this moment.
pub trait Names {
    /// The latest accepted value; `None` if there is none yet. Lent where it lies: of a family's facts an expression wants
    /// a number or two, and may want them thousands of times.
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>>;
    /// The values of every round and item, in order; empty if there are none.
    fn all(&self, name: &str) -> Vec<Value>;
    /// Readings over time of this name; none where it stands for something else.
    fn series(&self, _name: &str) -> Option<Arc<Series>> {
        None
    }
}

/// Why an expression has no value.
#[derive(Clone, Debug)]
pub enum Fault {
    /// Something it mentions is absent or unknown: neither met nor not met. Lists what is missing.
    NotShown(Vec<String>),
    /// It is wrong.
    Failed(Box<Diagnostic>),
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::NotShown(missing) => write!(f, "not shown: nobody knows {}", missing.join(", ")),
            Fault::Failed(diagnostic) => write!(f, "{diagnostic}"),
        }
    }
}

impl Error for Fault {}

/// A value that an expression mentions.
#[derive(Clone, Debug)]
pub struct Name {
    /// `[spec, level, window]`; a bare name is a path of one.
    pub path: Vec<String>,
    /// Mentioned as `all(name)`.
    pub all: bool,
    /// Where it is mentioned.
    pub place: Place,
}

impl Name {
    /// As it is written: `spec.level.window`, `all(drained)`.
    pub fn written(&self) -> String {
        if self.all { format!("all({})", self.path.join(".")) } else { self.path.join(".") }
    }
}

/// `name == "text"` in an expression: a choice that no step offers would never be met, silently.
#[derive(Clone, Debug)]
pub struct ComparedText {
    /// The name that is compared.
    pub path: Vec<String>,
    /// The text that it is compared with.
    pub text: String,
    /// Where the text stands.
    pub place: Place,
}
