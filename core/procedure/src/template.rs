//! Text with places to fill: `Tighten to {spec.fasteners.pan.torque}`.
//!
//! A placeholder is a path and never an expression: showing a step runs no script.

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_yaml::At;

#[derive(Clone, Debug, PartialEq)]
pub struct Template {
    pub parts: Vec<Part>,
    pub place: Place,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    Text(String),
    /// A dotted path from a name: `spec.level.window`, `round`, `setting.dial`.
    Path(Vec<String>),
}

impl Template {
    pub fn parse(text: &At<String>, problems: &mut Problems) -> Self {
        let mut parts = Vec::new();
        let mut rest = text.value.as_str();
        while let Some(open) = rest.find('{') {
            if open > 0 {
                parts.push(Part::Text(rest[..open].to_owned()));
            }
            let Some(length) = rest[open..].find('}') else {
                problems.push(
                    Diagnostic::error(Code::FaultyExpression, &text.place, "a `{` without its `}`")
                        .help("write `{name}` or `{spec.field}`; a placeholder is a path"),
                );
                rest = "";
                break;
            };
            let inner = rest[open + 1..open + length].trim();
            let path: Vec<String> = inner.split('.').map(|part| part.trim().replace('-', "_")).collect();
            if path.iter().all(|part| is_name(part)) {
                parts.push(Part::Path(path));
            } else {
                problems.push(
                    Diagnostic::error(Code::FaultyExpression, &text.place, format!("`{{{inner}}}` is not a path"))
                        .expected("a name or a dotted path, such as `{spec.level.window}`")
                        .help("compute the value in a `compute` step and show its name here"),
                );
            }
            rest = &rest[open + length + 1..];
        }
        if !rest.is_empty() {
            parts.push(Part::Text(rest.to_owned()));
        }
        Self { parts, place: text.place.clone() }
    }

    /// The text with every placeholder filled by `show`.
    pub fn fill(&self, mut show: impl FnMut(&[String]) -> String) -> String {
        let mut filled = String::new();
        for part in &self.parts {
            match part {
                // A name such as "Ann A." ends the sentence by itself.
                Part::Text(text) if filled.ends_with('.') => filled.push_str(text.strip_prefix('.').unwrap_or(text)),
                Part::Text(text) => filled.push_str(text),
                Part::Path(path) => filled.push_str(&show(path)),
            }
        }
        filled
    }

    pub fn paths(&self) -> impl Iterator<Item = &[String]> {
        self.parts.iter().filter_map(|part| match part {
            Part::Path(path) => Some(path.as_slice()),
            Part::Text(_) => None,
        })
    }
}

/// A name that scripts can use: snake_case.
fn is_name(text: &str) -> bool {
    let mut chars = text.chars();
    chars.next().is_some_and(|c| c.is_ascii_alphabetic()) && chars.all(|c| c.is_ascii_alphanumeric() || c == '_')
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::source::Source;

    fn template(text: &str) -> (Template, Problems) {
        let source = Source::new("t.yaml", text);
        let mut problems = Problems::new();
        let at = At::new(text.to_owned(), Place::new(&source, 0..text.len()));
        (Template::parse(&at, &mut problems), problems)
    }

    #[test]
    fn paths_are_filled_and_text_stays() {
        let (template, problems) = template("Set {a.b-c} now, round {round}");
        assert!(problems.is_empty());
        assert_eq!(template.fill(|path| format!("<{}>", path.join("/"))), "Set <a/b_c> now, round <round>");
    }

    #[test]
    fn an_expression_or_an_open_brace_is_refused() {
        assert_eq!(template("a {1 + 2}").1[0].code, Code::FaultyExpression);
        assert_eq!(template("a {b").1[0].code, Code::FaultyExpression);
    }
}
