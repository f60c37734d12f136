//! CSV as RFC 4180 has it, with the place of every cell.

use std::sync::Arc;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

#[derive(Clone, Debug)]
pub(super) struct Cell {
    /// Without quotes and the blanks around it.
    pub text: String,
    pub place: Place,
}

/// One record; blank lines and lines that begin with `#` are none.
pub(super) type Line = Vec<Cell>;

pub(super) fn lines(source: &Arc<Source>, problems: &mut Problems) -> Vec<Line> {
    let text = source.text.as_str();
    let mut lines = Vec::new();
    let mut at = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    while at < text.len() {
        let end = text[at..].find('\n').map_or(text.len(), |newline| at + newline);
        let line = text[at..end].trim();
        if line.is_empty() || line.starts_with('#') {
            at = end + 1;
            continue;
        }
        let (line, next) = record(source, at, problems);
        lines.push(line);
        at = next;
    }
    lines
}

/// The record that begins at a byte, and where the next one begins. Quoted cells may go over lines.
fn record(source: &Arc<Source>, mut at: usize, problems: &mut Problems) -> (Line, usize) {
    let text = source.text.as_str();
    let mut cells = Vec::new();
    loop {
        at += text[at..].len() - text[at..].trim_start_matches([' ', '\t']).len();
        let (cell, end) = if text[at..].starts_with('"') { quoted(source, at, problems) } else { plain(source, at) };
        cells.push(cell);
        match text.as_bytes().get(end) {
            Some(b',') => at = end + 1,
            Some(_) => return (cells, end + 1),
            None => return (cells, text.len()),
        }
    }
}

fn plain(source: &Arc<Source>, start: usize) -> (Cell, usize) {
    let rest = &source.text[start..];
    let end = rest.find([',', '\n']).unwrap_or(rest.len());
    let inner = rest[..end].trim_end();
    let place = Place::new(source, start..start + inner.len());
    (Cell { text: inner.to_string(), place }, start + end)
}

fn quoted(source: &Arc<Source>, start: usize, problems: &mut Problems) -> (Cell, usize) {
    let text = source.text.as_str();
    let mut value = String::new();
    let mut at = start + 1;
    loop {
        let Some(quote) = text[at..].find('"') else {
            let line = text[start..].find('\n').map_or(text.len(), |newline| start + newline);
            problems.push(
                Diagnostic::error(
                    Code::FaultyTable,
                    &Place::new(source, start..line),
                    "a cell whose quotes are never closed",
                )
                .help("close the quotes; a quote within them is written twice"),
            );
            return (Cell { text: value, place: Place::new(source, start..line) }, text.len());
        };
        value.push_str(&text[at..at + quote]);
        at += quote + 1;
        if !text[at..].starts_with('"') {
            break;
        }
        value.push('"');
        at += 1;
    }
    let place = Place::new(source, start..at);
    let rest = &text[at..];
    let end = rest.find([',', '\n']).unwrap_or(rest.len());
    if !rest[..end].trim().is_empty() {
        problems.push(
            Diagnostic::error(
                Code::FaultyTable,
                &Place::new(source, at..at + end),
                "text after the closing quote of a cell",
            )
            .help("put all of the cell inside the quotes; a quote within them is written twice"),
        );
    }
    (Cell { text: value.trim().to_string(), place }, at + end)
}
