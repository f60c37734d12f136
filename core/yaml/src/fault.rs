//! What serde hears from us when a value does not fit.

use std::fmt;

use serde::de::{Expected, Unexpected};

use super::node::Node;
use standpipe_diagnostic::{Code, Diagnostic, nearest};

#[derive(Debug)]
pub(super) enum Fault {
    /// Said by a visitor or a conversion that knows no place; gets the place of the nearest node around it.
    Unplaced {
        message: String,
        expected: Option<String>,
        help: Option<String>,
    },
    Missing(&'static str),
    Placed(Box<Diagnostic>),
    /// It follows from something that was reported already.
    Silent,
    /// Reported, and marked so that the next pass goes round it.
    Reported,
}

impl Fault {
    /// Gives an unplaced fault its place.
    pub(super) fn at(self, node: &Node) -> Self {
        match self {
            Fault::Unplaced { message, expected, help } => {
                let mut diagnostic = Diagnostic::error(Code::WrongShape, &node.place, message);
                diagnostic.expected = expected;
                diagnostic.help = help;
                with_habit(diagnostic, node).into()
            }
            Fault::Missing(name) => Diagnostic::error(Code::MissingKey, &node.head(), format!("`{name}` is missing"))
                .absent()
                .help(format!("add `{name}:` to these keys"))
                .into(),
            other => other,
        }
    }
}

pub(super) fn wrong_type(node: &Node, expected: impl Into<String>) -> Diagnostic {
    let expected = expected.into();
    let otherwise = format!("write {expected}");
    wrong_type_or(node, expected, otherwise)
}

/// With other advice, unless what was meant can be told.
pub(super) fn wrong_type_or(node: &Node, expected: impl Into<String>, otherwise: impl Into<String>) -> Diagnostic {
    let expected = expected.into();
    let problem =
        Diagnostic::error(Code::WrongShape, &node.place, format!("expected {expected}, found {}", node.described()));
    let mut problem = with_habit(problem, node);
    problem.help = problem.help.or_else(|| Some(otherwise.into()));
    problem.expected(expected)
}

/// With what was likely meant by brackets in a place that takes none of their kind.
fn with_habit(problem: Diagnostic, node: &Node) -> Diagnostic {
    let text = node.place.text();
    if problem.help.is_some() {
        return problem;
    }
    if text.starts_with('{') && !text.contains(": ") {
        let quoted = format!("\"{text}\"");
        let problem = problem.help(format!("put a text that begins with a bracket in quotes: `{quoted}`"));
        return if text.contains('"') { problem } else { problem.mend(quoted) };
    }
    match node.as_list() {
        Some([one]) if one.as_scalar().is_some() => {
            let bare = one.place.text();
            problem.help(format!("write it without the brackets: `{bare}`")).mend(bare)
        }
        _ => problem,
    }
}

impl From<Box<Diagnostic>> for Fault {
    fn from(diagnostic: Box<Diagnostic>) -> Self {
        Fault::Placed(diagnostic)
    }
}

impl From<Diagnostic> for Fault {
    fn from(diagnostic: Diagnostic) -> Self {
        Fault::Placed(Box::new(diagnostic))
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::Unplaced { message, .. } => f.write_str(message),
            Fault::Missing(name) => write!(f, "`{name}` is missing"),
            Fault::Placed(diagnostic) => f.write_str(&diagnostic.message),
            Fault::Silent | Fault::Reported => f.write_str("already reported"),
        }
    }
}

impl std::error::Error for Fault {}

impl serde::de::Error for Fault {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Fault::Unplaced { message: message.to_string(), expected: None, help: None }
    }

    fn invalid_type(found: Unexpected, expected: &dyn Expected) -> Self {
        Fault::Unplaced {
            message: format!("expected {expected}, found {}", in_words(found)),
            expected: Some(expected.to_string()),
            help: None,
        }
    }

    fn invalid_value(found: Unexpected, expected: &dyn Expected) -> Self {
        Self::invalid_type(found, expected)
    }

    fn invalid_length(length: usize, expected: &dyn Expected) -> Self {
        Fault::Unplaced {
            message: format!("expected {expected}, found {length}"),
            expected: Some(expected.to_string()),
            help: None,
        }
    }

    fn unknown_variant(variant: &str, choices: &'static [&'static str]) -> Self {
        Fault::Unplaced {
            message: format!("`{variant}` is none of the choices"),
            expected: Some(listed(choices)),
            help: nearest(variant, choices.iter().copied()).map(|near| format!("did you mean `{near}`?")),
        }
    }

    fn unknown_field(field: &str, choices: &'static [&'static str]) -> Self {
        Self::unknown_variant(field, choices)
    }

    fn missing_field(field: &'static str) -> Self {
        Fault::Missing(field)
    }
}

fn in_words(found: Unexpected) -> String {
    match found {
        Unexpected::Bool(value) => format!("`{value}`"),
        Unexpected::Unsigned(value) => format!("the number {value}"),
        Unexpected::Signed(value) => format!("the number {value}"),
        Unexpected::Float(value) => format!("the number {value}"),
        Unexpected::Str(text) => format!("the text `{text}`"),
        Unexpected::Seq => "a list".into(),
        Unexpected::Map | Unexpected::StructVariant | Unexpected::NewtypeVariant => "a map of keys".into(),
        _ => "something else".into(),
    }
}

/// `a`, `b` or `c`
pub(super) fn listed(choices: &[&str]) -> String {
    match choices {
        [] => "nothing".into(),
        [one] => format!("`{one}`"),
        [first @ .., last] => {
            let first: Vec<String> = first.iter().map(|choice| format!("`{choice}`")).collect();
            format!("{} or `{last}`", first.join(", "))
        }
    }
}
