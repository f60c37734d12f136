//! What the scanner found wrong, said in our words and at the line where it went wrong.
//!
//! A scanner notices a fault when it can't go on, which is often lines below the fault, or names a rule of the grammar
//! instead of what to do. It stops at the first one.

use std::ops::Range;
use std::sync::Arc;

use super::refuse;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Mend, Problems};

/// What of the parse so far is needed to find the true line.
pub(super) struct Scan<'s> {
    source: &'s Arc<Source>,
    /// Start and kind of every list and map whose end has not come yet.
    open: Vec<Start>,
    /// The block that ended last: a wrongly indented line may have been meant for it.
    last_closed: Option<Start>,
    /// Quoted texts and blocks over several lines, in which a tab is text.
    covered: Vec<Range<usize>>,
}

#[derive(Clone, Copy)]
struct Start {
    byte: usize,
    flow: bool,
}

impl<'s> Scan<'s> {
    pub(super) fn new(source: &'s Arc<Source>) -> Self {
        Self { source, open: Vec::new(), last_closed: None, covered: Vec::new() }
    }

    pub(super) fn opened(&mut self, byte: usize, flow: bool) {
        self.open.push(Start { byte, flow });
    }

    pub(super) fn closed(&mut self) {
        if let Some(start) = self.open.pop()
            && !start.flow
        {
            self.last_closed = Some(start);
        }
    }

    pub(super) fn covered(&mut self, start: usize, end: usize) {
        self.covered.push(start..end);
    }

    /// Every tab before the first character of a line, texts over several lines aside; up to where the scanner stopped,
    /// because what lies beyond may be inside a text.
    pub(super) fn refuse_tabs(&self, until: usize, problems: &mut Problems) {
        let mut start = 0;
        for line in self.source.text.split_inclusive('\n') {
            if start > until {
                break;
            }
            let content = line.trim_start_matches([' ', '\t']);
            let indent = line.len() - content.len();
            let blank = content.trim_end().is_empty() || content.starts_with('#');
            if let Some(tab) = line[..indent].find('\t')
                && !blank
                && !self.covered.iter().any(|range| range.contains(&(start + tab)))
            {
                problems.push(self.tab_in_indent(start + tab..start + indent));
            }
            start += line.len();
        }
    }

    fn tab_in_indent(&self, range: Range<usize>) -> Diagnostic {
        Diagnostic::error(Code::TabIndent, &Place::new(self.source, range), "a tab in the indentation")
            .expected("spaces")
            .help("replace it by spaces; most editors can be told to write spaces for tabs")
    }

    /// The scanner's complaint about byte `at`, as one of ours.
    pub(super) fn explain(&self, info: &str, at: usize) -> Diagnostic {
        let here = self.place(at, 1);
        if info.contains("unknown anchor") {
            return refuse::alias(&self.place(at, self.word_length(at)));
        }
        if info.split_whitespace().any(|word| matches!(word, "tab" | "tabs")) {
            return self.tab(at);
        }
        if let Some(open) = self.open.last().filter(|open| open.flow)
            && self.line_of(open.byte) < self.line_of(at)
        {
            return self.unclosed(open.byte, at);
        }
        if info.contains("simple key expect") {
            return self.no_colon(at);
        }
        if info.contains("mapping values are not allowed") || info.contains("illegal placement of ':'") {
            return self.stray_colon(at);
        }
        if info.contains("did not find expected key") || info.contains("expected '-' indicator") {
            return self.wrong_indent(at);
        }
        if info.contains("quoted scalar") && (info.contains("indentation") || info.contains("end of stream")) {
            return self
                .y001(&here, "the text in quotes that begins here is never closed")
                .help("close the quotes; within '...' write '' for one quote, within \"...\" write \\\"");
        }
        self.other(info, at)
    }

    fn other(&self, info: &str, at: usize) -> Diagnostic {
        let here = self.place(at, 1);
        let quote = "put the text in quotes";
        if let Some(found) = info.strip_prefix("unexpected character: ") {
            let found = found.trim_matches(['`', '\'']);
            return self.y001(&here, format!("a value can't begin with `{found}`")).help(quote);
        }
        if info.contains("mapping keys") {
            return self
                .y001(&here, format!("a value can't begin with `{}`", here.text()))
                .help("put it in quotes; in a family, what nobody knows yet is `unknown`");
        }
        let line = self.line_text(self.line_start(at));
        if info.contains("flow") && line.get(..at - self.line_start(at)).unwrap_or(line).trim_end().ends_with("one of")
        {
            return self
                .y001(&here, "a bracket in the middle of a value")
                .help("a choice is written with a key of its own: `one_of: [a, b]`");
        }
        if self.source.text.get(at..).is_some_and(|rest| rest.starts_with(':')) {
            let before = self.source.text[..at].trim_end();
            let key = &before[before.rfind([' ', ',', '{', '[']).map_or(0, |space| space + 1)..];
            return self
                .y001(&here, "a second colon in one value")
                .expected("text without `: `, or text in quotes")
                .help(format!("write a comma before `{key}:`, or put the whole text in quotes"));
        }
        let (message, help) = if info.contains("bracket") {
            ("a closing bracket that was never opened", "remove it, or put the text in quotes")
        } else if info.contains("flow mapping") || info.contains("flow sequence") {
            (
                "a comma or the closing bracket is missing here",
                "add it; text with `,`, `[`, `{`, `]` or `}` in brackets needs quotes",
            )
        } else if info.contains("escape") || info.contains("hexadecimal") {
            ("an unknown escape in a text in \"...\"", "write '...' instead, in which a backslash is a backslash")
        } else if info.contains("trailing content") {
            ("text after the closing quote", "put all of the value inside the quotes")
        } else if info.contains("block scalar") {
            (
                "a faulty block",
                "write only `|` after the key and indent all lines below it alike, deeper than the key; what itself begins with \
                 `|` or `>` goes in quotes",
            )
        } else if info.contains("recursion limit") {
            ("too many brackets within one another", "nest it less deeply")
        } else if info.contains("document") || info.contains("directive") || info.contains("DIRECTIVE") {
            ("a line that YAML reads as the mark of a document", "remove it, or put the text in quotes")
        } else if info.contains("comment") {
            ("a comment in the middle of a text over several lines", "put the text in quotes, or the comment above it")
        } else if info.contains("sequence entries") || info.contains("expected node content") {
            ("a list or value can't begin here", "begin the list on a line of its own, or put the text in quotes")
        } else if info.contains("indentation") {
            ("this line is not indented deeply enough", "indent it deeper than the key it belongs to")
        } else {
            return self.y001(&here, "this is not valid YAML").label(info.to_string()).help(quote);
        };
        self.y001(&here, message).help(help)
    }

    fn tab(&self, at: usize) -> Diagnostic {
        // In a block the scanner points at the header; the tab stands below.
        let text = &self.source.text;
        let from = self.line_start(at);
        let mut start = from;
        for line in text[from..].split_inclusive('\n') {
            let indent = line.len() - line.trim_start_matches([' ', '\t']).len();
            if let Some(tab) = line[..indent].find('\t') {
                return self.tab_in_indent(start + tab..start + indent);
            }
            start += line.len();
        }
        self.y001(&self.place(at, 1), "a tab where YAML does not allow one").help("replace it by spaces")
    }

    fn unclosed(&self, open: usize, at: usize) -> Diagnostic {
        let bracket = &self.source.text[open..=open];
        let closing = if bracket == "[" { "]" } else { "}" };
        self.y001(&self.place(open, 1), format!("the `{bracket}` that begins here is not closed"))
            .also(&self.place(at, self.word_length(at)), "it can't go on here")
            .help(format!("add `{closing}`; text with brackets or commas in it needs quotes"))
    }

    /// The scanner waits for a colon until the text has ended, lines below the line that lacks it.
    fn no_colon(&self, at: usize) -> Diagnostic {
        let column = self.open.last().map_or(0, |open| open.byte - self.line_start(open.byte));
        let mut line = self.line_start(at);
        let mut best = None;
        while line > 0 {
            line = self.line_start(line - 1);
            let content = self.line_text(line);
            let trimmed = content.trim_start();
            if trimmed.is_empty() || trimmed.starts_with('#') {
                continue;
            }
            let indent = content.len() - trimmed.len();
            best = Some(line + indent);
            if indent <= column {
                break;
            }
        }
        let start = best.unwrap_or(at);
        let written = self.line_text(start).trim_end();
        let place = Place::new(self.source, start..start + written.len());
        if written.starts_with('*') {
            return refuse::alias(&self.place(start, self.word_length(start)));
        }
        let problem = self
            .y001(&place, "a line without a key, a colon and a space")
            .expected("a key, a colon, a space and a value");
        match written.split_once(':') {
            Some((key, value)) if !value.starts_with(' ') && !value.is_empty() => {
                let spaced = format!("{key}: {value}");
                let problem = problem.help(format!("write a space after the colon: `{spaced}`"));
                if key.chars().all(|c| c.is_alphanumeric() || "_-.".contains(c)) {
                    problem.mend(spaced)
                } else {
                    problem
                }
            }
            _ if written.starts_with('-') => {
                problem.help("write a space after the `-`").mend(format!("- {}", &written[1..]))
            }
            _ => match written.split_once(' ') {
                Some((key, value)) => problem.help(format!(
                    "if it is a key, add the colon: `{key}: {}`; if it goes on from the line above, indent it deeper",
                    value.trim_start_matches(['=', ' '])
                )),
                None => problem
                    .help("if it goes on from the line above, indent it deeper; if it is a key, add the colon `:`"),
            },
        }
    }

    fn stray_colon(&self, at: usize) -> Diagnostic {
        let start = self.line_start(at);
        let line = self.line_text(start);
        let indent = line.len() - line.trim_start().len();
        let before = &line[indent..(at - start).clamp(indent, line.len())];
        if before.contains(": ") || before.starts_with("- ") && before[2..].contains(": ") {
            let problem = self
                .y001(&self.place(at, 1), "a second colon in one line")
                .expected("text without `: `, or text in quotes")
                .help("put the text in quotes, or an expression in a `|` block");
            return self.quoted(problem, start, start + indent + before.find(": ").map_or(0, |colon| colon + 2));
        }
        let key = Place::new(self.source, start + indent..at);
        let problem = self.y001(&key, format!("`{}` is indented deeper than the line above allows", key.text()));
        match self.key_above(start) {
            Some(above) => problem.also(&above, "this key already has a value").help(format!(
                "indent `{}` as far as `{}`, or leave the value of `{}` out",
                key.text(),
                above.text(),
                above.text()
            )),
            None => problem.help("indent it as far as the keys it belongs to"),
        }
    }

    /// Puts the rest of a line in quotes, where that can be done in one way only.
    fn quoted(&self, problem: Diagnostic, line: usize, value: usize) -> Diagnostic {
        let text = self.source.text[value..line + self.line_text(line).len()].trim_end();
        let plain = text.starts_with(char::is_alphanumeric) && !text.contains(['"', '\\']) && !text.contains(" #");
        let mend = Mend { place: self.place(value, text.len()), write: format!("\"{text}\"") };
        Diagnostic { mend: plain.then_some(mend), ..problem }
    }

    fn wrong_indent(&self, at: usize) -> Diagnostic {
        let start = self.line_start(at);
        let line = self.line_text(start);
        let indent = line.len() - line.trim_start().len();
        let place = Place::new(self.source, at..start + line.trim_end().len().max(indent));
        // After a flow map on the same line it is not the indentation.
        if at > start + indent {
            if place.text().starts_with(',') {
                let problem = self
                    .y001(&place, "a comma after the end of a value")
                    .help("take it out: commas separate values in brackets, not lines or the words of a line");
                return if place.text() == "," { problem.mend("") } else { problem };
            }
            return self
                .y001(&place, "text after the end of a value")
                .help("put all of the value in quotes if it is text that begins with a bracket or a quote");
        }
        let mut problem = self.y001(&place, format!("this line is indented by {indent}, the lines around it are not"));
        let mut columns = Vec::new();
        let block = self.covered.last().filter(|range| self.source.text[range.end..at].trim().is_empty());
        let block = block.map(|range| Start { byte: range.start, flow: false });
        let around = self.open.last().into_iter().chain(&self.last_closed).filter(|start| !start.flow);
        for start in around.chain(&block) {
            let column = start.byte - self.line_start(start.byte);
            if !columns.contains(&column) && column != indent {
                problem = problem
                    .also(&self.place(start.byte, self.word_length(start.byte)), format!("indented by {column}"));
                columns.push(column);
            }
        }
        let columns: Vec<String> = columns.iter().map(|column| column.to_string()).collect();
        problem.help(format!(
            "indent it by {} spaces",
            if columns.is_empty() { "as many".into() } else { columns.join(" or ") }
        ))
    }

    /// The key of the nearest line above that is not indented deeper than this one.
    fn key_above(&self, start: usize) -> Option<Place> {
        let own = self.line_text(start);
        let own_indent = own.len() - own.trim_start().len();
        let mut line = start;
        while line > 0 {
            line = self.line_start(line - 1);
            let content = self.line_text(line);
            let trimmed = content.trim_start().trim_start_matches("- ");
            let indent = content.len() - trimmed.len();
            if indent < own_indent
                && let Some((key, _)) = trimmed.split_once(':')
            {
                return Some(Place::new(self.source, line + indent..line + indent + key.len()));
            }
        }
        None
    }

    fn y001(&self, place: &Place, message: impl Into<String>) -> Diagnostic {
        Diagnostic::error(Code::InvalidYaml, place, message)
    }

    fn place(&self, at: usize, length: usize) -> Place {
        Place::new(self.source, at..at + length)
    }

    fn line_start(&self, at: usize) -> usize {
        self.source.text[..at].rfind('\n').map_or(0, |newline| newline + 1)
    }

    fn line_of(&self, at: usize) -> usize {
        self.line_start(at)
    }

    /// From a byte to the end of its line.
    fn line_text(&self, at: usize) -> &'s str {
        self.source.text[at..].lines().next().unwrap_or("")
    }

    fn word_length(&self, at: usize) -> usize {
        let rest = self.line_text(at);
        rest.find([' ', ',', ':', '}', ']']).unwrap_or(rest.len()).max(1)
    }
}
