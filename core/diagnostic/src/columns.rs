//! Text in columns, by the width that a terminal gives it.
//!
//! Everything drawn passes through here, so what a file or a person wrote can't move the cursor: control characters
//! and those that turn the direction of writing become spaces.

use std::ops::Range;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// One line without anything that a terminal would obey.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if is_obeyed(c) { ' ' } else { c }).collect()
}

/// With a capital at its beginning.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Several lines of ours, as they go to a terminal: what is left in them that it would obey becomes a space, but for the ends
/// of lines, tabs and, where `coloured`, colours.
pub fn for_terminal(text: &str, coloured: bool) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let taken = if coloured { colour(rest) } else { 0 }.max(c.len_utf8());
        match c {
            _ if taken > c.len_utf8() => out.push_str(&rest[..taken]),
            '\r' if rest.starts_with("\r\n") => out.push(c),
            '\n' | '\t' => out.push(c),
            _ => out.push(if is_obeyed(c) { ' ' } else { c }),
        }
        rest = &rest[taken..];
    }
    out
}

/// Bytes of a change of colour at the beginning of a text: `ESC [`, numbers, `m` (ECMA-48, SGR).
fn colour(text: &str) -> usize {
    let Some(numbers) = text.strip_prefix("\u{1b}[") else { return 0 };
    let length = numbers.bytes().take_while(|byte| byte.is_ascii_digit() || *byte == b';').count();
    if numbers.as_bytes().get(length) == Some(&b'm') { 2 + length + 1 } else { 0 }
}

/// JSON that a terminal can show: what it would obey is written as an escape. Such characters stand in texts only.
pub fn json_for_terminal(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '\n' | '\r' | '\t' => out.push(c),
            c if is_obeyed(c) => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out
}

/// Whether a terminal would do something else than show it.
pub fn is_obeyed(c: char) -> bool {
    // Directional marks, embeddings, overrides and isolates: they can make a line read as something else.
    c.is_control()
        || matches!(c, '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Columns that a text takes on a terminal.
pub fn width(text: &str) -> usize {
    text.width()
}

/// Lines of at most `limit` columns, broken between words; a word that is longer is broken where it has to be.
pub fn wrap(text: &str, limit: usize) -> Vec<String> {
    let limit = limit.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in clean(text).split_whitespace() {
        let mut word = word;
        if !line.is_empty() && width(&line) + 1 + width(word) <= limit {
            line.push(' ');
            line.push_str(word);
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        while width(word) > limit {
            let (head, tail) = word.split_at(cut(word, limit));
            lines.push(head.to_owned());
            word = tail;
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A label, and its text wrapped beside it: later lines start where the text starts.
pub fn hang(label: &str, text: &str, limit: usize) -> Vec<String> {
    let label = clean(label);
    let indent = width(&label);
    let lines = wrap(text, limit.saturating_sub(indent));
    if lines.is_empty() {
        return vec![label.trim_end().to_owned()];
    }
    let blank = " ".repeat(indent);
    let start = |index: usize| if index == 0 { label.as_str() } else { blank.as_str() };
    lines.iter().enumerate().map(|(index, line)| format!("{}{line}", start(index))).collect()
}

/// Cut to `limit` columns; what was cut shows as `…`.
pub fn fit(text: &str, limit: usize) -> String {
    let text = clean(text);
    if width(&text) <= limit {
        return text;
    }
    let kept = text[..cut(&text, limit.saturating_sub(1))].trim_end();
    if limit == 0 { String::new() } else { format!("{kept}…") }
}

/// A line cut to `limit` columns around the bytes of `marked`, with the column where these begin and the columns they take;
/// what was cut away at either end shows as `…`.
pub fn fit_around(line: &str, marked: Range<usize>, limit: usize) -> (String, usize, usize) {
    let (before, rest) = line.split_at(marked.start.min(line.len()));
    let (inside, after) = rest.split_at((marked.end - marked.start).min(rest.len()));
    let (before, inside, after) = (clean(before), clean(inside), clean(after.trim_end()));
    // Two thirds of the line for what stands before the mark, once it has to be cut.
    let room = limit.saturating_sub(width(&inside)).max(limit / 3);
    let all = width(&before) + width(&inside) + width(&after) <= limit;
    let kept = if all || width(&before) <= room.min(limit * 2 / 3) { before } else { fit_end(&before, room * 2 / 3) };
    let from = width(&kept);
    let inside = fit(&inside, limit.saturating_sub(from));
    let length = width(&inside);
    (fit(&format!("{kept}{inside}{after}"), limit), from, length)
}

/// The end of a text in `limit` columns; what was cut shows as `…` before it.
fn fit_end(text: &str, limit: usize) -> String {
    let mut columns = 1;
    let kept = text.char_indices().rev().take_while(|(_, c)| {
        columns += c.width().unwrap_or(0);
        columns <= limit
    });
    format!("…{}", &text[kept.last().map_or(text.len(), |(at, _)| at)..])
}

/// Filled with spaces up to `limit` columns.
pub fn pad(text: &str, limit: usize) -> String {
    format!("{text}{}", " ".repeat(limit.saturating_sub(width(text))))
}

/// One text at the left and one at the right end of a line; the left one gives way.
pub fn spread(left: &str, right: &str, limit: usize) -> String {
    let right = fit(right, limit);
    if right.is_empty() {
        return fit(left, limit);
    }
    let room = limit.saturating_sub(width(&right) + 2);
    let left = fit(left, room);
    format!("{}{right}", pad(&left, limit.saturating_sub(width(&right))))
}

/// Items side by side, as many as fit into each line.
pub fn flow(items: &[String], gap: usize, limit: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for item in items {
        match lines.last_mut() {
            Some(line) if width(line) + gap + width(item) <= limit => {
                line.push_str(&" ".repeat(gap));
                line.push_str(&clean(item));
            }
            _ if width(item) <= limit => lines.push(clean(item)),
            _ => lines.extend(wrap(item, limit)),
        }
    }
    lines
}

/// Where to cut a text so that its head takes at most `limit` columns, and at least one character.
fn cut(text: &str, limit: usize) -> usize {
    let mut columns = 0;
    for (index, c) in text.char_indices() {
        columns += c.width().unwrap_or(0);
        if columns > limit && index > 0 {
            return index;
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_long_words_where_they_must() {
        assert_eq!(wrap("one two  three", 7), ["one two", "three"]);
        assert_eq!(wrap("abcdefgh ij", 3), ["abc", "def", "gh", "ij"]);
        assert!(wrap("  ", 5).is_empty());
        // A wide character takes two columns: three of them do not fit into five.
        assert_eq!(wrap("車車車", 5), ["車車", "車"]);
    }

    #[test]
    fn what_a_terminal_would_obey_becomes_a_space() {
        assert_eq!(clean("a\u{1b}[2Jb\nc\u{202E}d"), "a [2Jb c d");
    }

    /// ECMA-48: C0 and C1; Unicode 16, table 4-4 of bidirectional controls.
    #[test]
    fn no_character_that_a_terminal_obeys_gets_through() {
        let bidi = "\u{061C}\u{200E}\u{200F}\u{202A}\u{202B}\u{202C}\u{202D}\u{202E}\u{2066}\u{2067}\u{2068}\u{2069}";
        let controls = (0..0x20).chain(0x7f..0xa0).filter_map(char::from_u32);
        for c in controls.chain(bidi.chars()) {
            let text = format!("a{c}b");
            let kept = matches!(c, '\n' | '\t');
            assert_eq!(clean(&text), "a b", "{:04x}", c as u32);
            for coloured in [false, true] {
                assert_eq!(for_terminal(&text, coloured).contains(c), kept, "{:04x}", c as u32);
            }
            let json = json_for_terminal(&format!("\"{text}\""));
            assert!(json.contains(c) == matches!(c, '\n' | '\t' | '\r'), "{:04x}", c as u32);
        }
        assert_eq!(json_for_terminal("\"\u{9b}1m\""), "\"\\u009b1m\"");
        assert_eq!(for_terminal("\u{1b}[1;31mred\u{1b}[0m\u{1b}[2J", true), "\u{1b}[1;31mred\u{1b}[0m [2J");
        assert_eq!(for_terminal("\u{1b}[31mred", false), " [31mred");
    }

    #[test]
    fn the_left_end_gives_way_to_the_right_one() {
        assert_eq!(spread("a long name", "step 1", 14), "a lon…  step 1");
        assert_eq!(spread("ab", "z", 6), "ab   z");
        assert_eq!(spread("only left", "", 6), "only…");
    }

    #[test]
    fn items_flow_and_labels_hang() {
        let items = ["1 a".to_owned(), "2 b".to_owned(), "3 c".to_owned()];
        assert_eq!(flow(&items, 2, 9), ["1 a  2 b", "3 c"]);
        assert_eq!(hang("! ", "hot and wet", 8), ["! hot", "  and", "  wet"]);
    }
}
