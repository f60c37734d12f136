//! Messages for people, with the line they speak of.

use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{Annotation, AnnotationKind, Element, Group, Level, Origin, Renderer, Snippet};

use super::columns::{clean, for_terminal};
use super::{Diagnostic, Severity, sorted};
use crate::source::{Place, Source};

/// How to show messages: `color` with escape codes, `width` in columns.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// With colours.
    pub color: bool,
    /// Columns of the terminal.
    pub width: usize,
}

/// All messages by file and line, a blank line after each.
pub fn human(problems: &[Diagnostic], look: Look) -> String {
    let renderer = if look.color { Renderer::styled() } else { Renderer::plain() }.term_width(look.width.max(40));
    let mut out = String::new();
    for problem in sorted(problems) {
        out.push_str(&for_terminal(&renderer.render(&[group(problem)]), look.color));
        out.push_str("\n\n");
    }
    out
}

fn group(problem: &Diagnostic) -> Group<'_> {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let mut group = level.primary_title(clean(&problem.message)).id(problem.code.name()).element(primary(problem));
    for related in &problem.also {
        if !Arc::ptr_eq(related.place.source(), problem.place.source()) {
            group = group.element(snippet(
                related.place.source(),
                vec![(AnnotationKind::Context, &related.place, related.label.as_str())],
            ));
        }
    }
    if let Some(expected) = problem.expected.as_deref().filter(|expected| !problem.message.contains(expected)) {
        group = group.element(Level::NOTE.with_name("expected").message(clean(expected)));
    }
    if let Some(help) = problem.help.as_deref() {
        group = group.element(Level::HELP.message(clean(help)));
    }
    group
}

fn primary(problem: &Diagnostic) -> Element<'_> {
    let source = problem.place.source();
    let mut marks = vec![(AnnotationKind::Primary, &problem.place, problem.label.as_str())];
    for related in problem.also.iter().filter(|related| Arc::ptr_eq(related.place.source(), source)) {
        marks.push((AnnotationKind::Context, &related.place, related.label.as_str()));
    }
    snippet(source, marks)
}

/// Only the lines from the first mark to the last are handed on: the file may be large.
fn snippet<'a>(source: &'a Arc<Source>, marks: Vec<(AnnotationKind, &'a Place, &'a str)>) -> Element<'a> {
    let spans: Vec<Range<usize>> = marks.iter().map(|(_, place, _)| one_line(place)).collect();
    let first = spans.iter().map(|span| span.start).min().unwrap_or(0);
    let last = spans.iter().map(|span| span.end).max().unwrap_or(0);
    // A message about the file as a whole has no line to show.
    if last == 0 {
        return Origin::path(clean(&source.name)).into();
    }
    let text = &source.text;
    let start = text[..first].rfind('\n').map_or(0, |newline| newline + 1);
    let end = text[last..].find('\n').map_or(text.len(), |newline| last + newline);
    let line = text[..start].matches('\n').count() + 1;
    // A carriage return would be drawn, and is no part of the line to a person.
    let lines = &text[start..end];
    let shown = |at: usize| at - start - lines[..at - start].matches('\r').count();
    let annotations = marks.iter().zip(spans).map(|((kind, _, label), span)| -> Annotation<'a> {
        let annotation = kind.span(shown(span.start)..shown(span.end));
        if label.is_empty() { annotation } else { annotation.label(clean(label)) }
    });
    Snippet::source(lines.replace('\r', "")).line_start(line).path(clean(&source.name)).annotations(annotations).into()
}

/// The first line of a place: a mark over a whole block tells less than one at its head.
fn one_line(place: &Place) -> Range<usize> {
    let range = place.range();
    let length = place.text().trim_end().find('\n').unwrap_or(range.len());
    range.start..range.start + length
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Code;

    fn sample() -> Vec<Diagnostic> {
        let source = Source::new("a.yaml", "first: 1\nsecond: °x\nfirst: 3\n");
        let other = Source::new("b.yaml", "x: 1\n");
        vec![
            Diagnostic::error(Code::DuplicateKey, &Place::new(&source, 21..26), "`first` appears twice")
                .label("again")
                .also(&Place::new(&source, 0..5), "first here")
                .also(&Place::new(&other, 0..1), "and here")
                .expected("one")
                .help("keep one"),
            Diagnostic::warning(Code::InvalidYaml, &Place::whole(&source), "a whole file"),
        ]
    }

    #[test]
    fn a_message_shows_its_lines_and_what_to_do() {
        let text = human(&sample(), Look { color: false, width: 80 });
        let expected = "\
warning[invalid-yaml]: a whole file
--> a.yaml

error[duplicate-key]: `first` appears twice
 --> a.yaml:3:1
  |
1 | first: 1
  | ----- first here
2 | second: °x
3 | first: 3
  | ^^^^^ again
  |
 ::: b.yaml:1:1
  |
1 | x: 1
  | - and here
  |
  = expected: one
  = help: keep one

";
        assert_eq!(text, expected);
    }

    #[test]
    fn colour_comes_only_when_asked_for() {
        assert!(!human(&sample(), Look { color: false, width: 80 }).contains('\u{1b}'));
        assert!(human(&sample(), Look { color: true, width: 80 }).contains('\u{1b}'));
    }
}
