//! Messages for people: what is wrong and where, the lines it speaks of, what was expected and what to do.

use std::sync::Arc;

use super::columns::{clean, fit_around, hang, width, wrap};
use super::{Diagnostic, Severity, sorted};
use crate::source::{Place, Source};

/// How to show messages: `color` with escape codes, `width` in columns.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// With colours.
    pub color: bool,
    /// Columns of the terminal.
    pub width: usize,
    /// To a terminal. Elsewhere the message itself stays on one line, where it can be searched for.
    pub folded: bool,
}

/// All messages by file and line, a blank line after each.
pub fn human(problems: &[Diagnostic], look: Look) -> String {
    let look = Look { width: look.width.max(40), ..look };
    sorted(problems).into_iter().map(|problem| message(problem, look) + "\n").collect()
}

/// What goes before the text of a line: its number, right-aligned.
const MARGIN: usize = 8;

fn message(problem: &Diagnostic, look: Look) -> String {
    let (word, colour) = match problem.severity {
        Severity::Error => ("Error", "31"),
        Severity::Warning => ("Warning", "33"),
        Severity::Note => ("Note", "36"),
    };
    let place = &problem.place;
    let first = format!("{word} in {}: {}", whereabouts(place), problem.message);
    let mut lines = wrap(&first, if look.folded { look.width } else { usize::MAX });
    if let Some(rest) = lines.first().and_then(|line| line.strip_prefix(word)).map(str::to_owned) {
        lines[0] = look.paint(colour, word) + &rest;
    }
    lines.extend(excerpt(problem, look, colour));
    let besides = match problem.follow {
        0 => String::new(),
        1 => "one more message may follow from this: fix it and check again".to_owned(),
        many => format!("{many} more messages may follow from this: fix it and check again"),
    };
    for (name, text) in [
        ("expected", problem.expected.as_deref().filter(|expected| !problem.message.contains(expected))),
        ("do", problem.help.as_deref()),
        ("besides", (!besides.is_empty()).then_some(besides.as_str())),
        ("code", Some(problem.code.name())),
    ] {
        let Some(text) = text else { continue };
        let label = format!("  {name:<10}");
        let hung = hang(&label, text, look.width);
        lines.extend(hung.into_iter().enumerate().map(|(index, line)| match line.strip_prefix(&label) {
            Some(text) if index == 0 => format!("  {}{}{text}", look.paint("1", name), &label[2 + name.len()..]),
            _ => line,
        }));
    }
    lines.iter().map(|line| line.trim_end().to_owned() + "\n").collect()
}

/// `a.yaml, line 3`; for what was typed and for a file as a whole only its name.
fn whereabouts(place: &Place) -> String {
    match typed(place) {
        Some(what) => clean(what),
        None if place.range().end == 0 => clean(place.name()),
        None => format!("{}, line {}", clean(place.name()), place.line()),
    }
}

/// What was typed rather than read from a file: `argument 2` for `<argument 2>`.
fn typed(place: &Place) -> Option<&str> {
    place.name().strip_prefix('<')?.strip_suffix('>')
}

/// Every marked line with its marks beneath, by file: that of the message first, the others under their names.
fn excerpt(problem: &Diagnostic, look: Look, colour: &str) -> Vec<String> {
    let own = problem.place.source();
    let mut marks = vec![Mark { place: &problem.place, label: &problem.label, colour }];
    marks.extend(problem.also.iter().map(|also| Mark { place: &also.place, label: &also.label, colour: "34" }));
    let mut sources: Vec<&Arc<Source>> = Vec::new();
    for mark in &marks {
        if !sources.iter().any(|known| Arc::ptr_eq(known, mark.place.source())) {
            sources.push(mark.place.source());
        }
    }
    let mut lines = Vec::new();
    for source in sources {
        let mut here: Vec<&Mark<'_>> = marks.iter().filter(|mark| Arc::ptr_eq(mark.place.source(), source)).collect();
        here.sort_by_key(|mark| mark.place.range().start);
        if !Arc::ptr_eq(source, own) {
            lines.push(format!("{:MARGIN$}{}", "", whereabouts(here[0].place)));
        }
        let mut shown = String::new();
        for mark in here.into_iter().filter(|mark| mark.place.range().end > 0) {
            mark.draw(&mut shown, &mut lines, look);
        }
    }
    lines
}

struct Mark<'a> {
    place: &'a Place,
    label: &'a str,
    colour: &'a str,
}

impl Mark<'_> {
    /// The line itself, unless it was shown last and cut as this mark needs it, and under it the mark with its words.
    fn draw(&self, shown: &mut String, lines: &mut Vec<String>, look: Look) {
        let text = &self.place.source().text;
        let at = self.place.range().start;
        let start = text[..at].rfind('\n').map_or(0, |newline| newline + 1);
        let end = text[at..].find('\n').map_or(text.len(), |newline| at + newline);
        let line = &text[start..end];
        // The first line of a place: a mark over a whole block tells less than one at its head.
        let marked = self.place.text().trim_end().lines().next().unwrap_or_default();
        let (line, from, length) = fit_around(line, at - start..at - start + marked.len(), look.width - MARGIN);
        let number = if typed(self.place).is_some() { String::new() } else { self.place.line().to_string() };
        let line = format!("{number:>6}  {line}");
        if *shown != line {
            shown.clone_from(&line);
            lines.push(line);
        }
        let under = format!("{:from$}{}", "", look.paint(self.colour, &"‾".repeat(length.max(1))));
        let beside = MARGIN + from + length.max(1) + 1;
        if self.label.is_empty() || beside + width(self.label) <= look.width {
            lines.push(format!("{:MARGIN$}{under} {}", "", clean(self.label)));
        } else {
            lines.push(format!("{:MARGIN$}{under}", ""));
            lines.extend(hang(&" ".repeat(MARGIN), self.label, look.width));
        }
    }
}

impl Look {
    /// In a colour or weight by its number (ECMA-48, SGR), where colours are wanted.
    fn paint(self, number: &str, text: &str) -> String {
        if self.color { format!("\u{1b}[{number}m{text}\u{1b}[0m") } else { text.to_owned() }
    }
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
            Diagnostic::error(Code::WrongQuantity, &Place::new(&Source::new("<argument 2>", "n=3"), 2..3), "no kg"),
        ]
    }

    #[test]
    fn a_message_shows_its_lines_and_what_to_do() {
        let text = human(&sample(), Look { color: false, width: 80, folded: true });
        let expected = "\
Error in argument 2: no kg
        n=3
          ‾
  code      wrong-quantity

Warning in a.yaml: a whole file
  code      invalid-yaml

Error in a.yaml, line 3: `first` appears twice
     1  first: 1
        ‾‾‾‾‾ first here
     3  first: 3
        ‾‾‾‾‾ again
        b.yaml, line 1
     1  x: 1
        ‾ and here
  expected  one
  do        keep one
  code      duplicate-key

";
        assert_eq!(text, expected);
    }

    #[test]
    fn a_narrow_terminal_cuts_and_wraps() {
        let source = Source::new("long.yaml", format!("{}: here{}\r\n", "k".repeat(60), " and on".repeat(20)));
        let fault = Diagnostic::error(Code::UnknownKey, &Place::new(&source, 62..66), "one that no reader knows of")
            .label("a few words too many for what is left of the line");
        let text = human(
            &[fault.help("take another key, and read what is said of it")],
            Look { color: false, width: 40, folded: true },
        );
        assert!(text.lines().all(|line| width(line) <= 40), "{text}");
        assert!(!text.contains('\r'));
        let line = text.lines().position(|line| line.contains("here")).unwrap_or_else(|| panic!("{text}"));
        let lines: Vec<&str> = text.lines().collect();
        let column = |line: &str, what: &str| line.find(what).map(|at| width(&line[..at]));
        assert_eq!(column(lines[line], "here"), column(lines[line + 1], "‾‾‾‾"), "{text}");
    }

    /// Two marks far apart in one line that has to be cut: each stands under what it marks.
    #[test]
    fn each_mark_stands_under_its_own_words() {
        let source = Source::new("flow.yaml", format!("{{ here: 1, {}there: 2 }}", "k: 0, ".repeat(30)));
        let at = source.text.find("there").unwrap_or_default();
        let fault = Diagnostic::error(Code::DuplicateKey, &Place::new(&source, at..at + 5), "twice")
            .also(&Place::new(&source, 2..6), "first");
        let text = human(&[fault], Look { color: false, width: 60, folded: true });
        let lines: Vec<&str> = text.lines().collect();
        for word in ["here", "there"] {
            let marked = lines.windows(2).any(|pair| {
                let line: Vec<char> = pair[0].chars().collect();
                let from = pair[1].chars().take_while(|c| *c == ' ').count();
                let marks = pair[1].chars().filter(|c| *c == '‾').count();
                line.get(from..from + marks).is_some_and(|under| under.iter().collect::<String>() == word)
            });
            assert!(marked, "{word}\n{text}");
        }
    }

    #[test]
    fn colour_comes_only_when_asked_for() {
        assert!(!human(&sample(), Look { color: false, width: 80, folded: false }).contains('\u{1b}'));
        let coloured = human(&sample(), Look { color: true, width: 80, folded: false });
        assert!(coloured.contains("\u{1b}[31mError\u{1b}[0m in a.yaml") && coloured.contains("\u{1b}[1mdo\u{1b}[0m"));
    }
}
