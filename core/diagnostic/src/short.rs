//! One line per message, for editors, logs and lists.

use std::fmt;

use super::columns::clean;
use super::{Diagnostic, Severity, sorted};

/// `file:line:column: error, unknown-key: message (help)`
pub fn short(problems: &[Diagnostic]) -> String {
    sorted(problems).into_iter().map(|problem| line(problem) + "\n").collect()
}

fn line(problem: &Diagnostic) -> String {
    let severity = match problem.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Note => "note",
    };
    let help = problem.help.as_ref().map_or_else(String::new, |help| format!(" ({help})"));
    clean(&format!("{}: {severity}, {}: {}{help}", problem.place, problem.code, problem.message))
}

/// As [`short`] has it, without the end of the line.
impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&line(self))
    }
}

impl std::error::Error for Diagnostic {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Code;
    use crate::source::{Place, Source};

    #[test]
    fn lines_are_in_the_order_of_the_places() {
        let source = Source::new("a.yaml", "x: 1\ny: 2\n");
        let problems = [
            Diagnostic::warning(Code::MissingKey, &Place::new(&source, 5..6), "later").help("do so"),
            Diagnostic::error(Code::UnknownKey, &Place::new(&source, 0..1), "unknown key `x`"),
        ];
        assert_eq!(
            short(&problems),
            "a.yaml:1:1: error, unknown-key: unknown key `x`\na.yaml:2:1: warning, missing-key: later (do so)\n"
        );
    }
}
