//! Paragraphs for a page of text.

use crate::columns::wrap;

/// A text within `width` columns, later lines indented, ended by a line break. Spaces at its start are kept.
pub fn wrapped(text: &str, width: usize, indent: &str) -> String {
    let start: String = text.chars().take_while(|c| *c == ' ').collect();
    let room = width.saturating_sub(start.len().max(indent.len())).max(20);
    let mut out = String::new();
    for (index, line) in wrap(text, room).iter().enumerate() {
        out.push_str(if index == 0 { &start } else { indent });
        out.push_str(line);
        out.push('\n');
    }
    out
}
