//! What YAML allows and these files do not, because it would be read as something else than was meant.

use std::sync::Arc;

use super::number;
use crate::At;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// A tag or an anchor before a value. An expression like `!leaking` would vanish into a tag.
pub(super) fn decoration(source: &Arc<Source>, start: usize, problems: &mut Problems) {
    let rest = &source.text[start..];
    let length = rest.find(|c: char| c.is_whitespace() || matches!(c, ',' | '}' | ']')).unwrap_or(rest.len());
    let place = Place::new(source, start..start + length);
    let word = place.text().to_string();
    let diagnostic = if word.starts_with('&') {
        Diagnostic::error(Code::TagOrAnchor, &place, format!("YAML reads `{word}` as an anchor")).help(
            "anchors are not used here: put text that begins with `&` in quotes, and write values out where they are needed",
        )
    } else {
        Diagnostic::error(Code::TagOrAnchor, &place, format!("YAML reads `{word}` as a tag, not as part of the value"))
            .help("put the whole value in quotes, or an expression in a `|` block")
    };
    problems.push(diagnostic);
}

pub(super) fn reference(place: &Place, problems: &mut Problems) {
    problems.push(alias(place));
}

pub(super) fn alias(place: &Place) -> Diagnostic {
    Diagnostic::error(Code::TagOrAnchor, place, format!("YAML reads `{}` as an alias", place.text()))
        .help("aliases are not used here: put text that begins with `*` in quotes, and write values out where they are needed")
}

/// What a version control leaves behind.
pub(super) fn merge(place: &Place) -> Diagnostic {
    Diagnostic::error(Code::InvalidYaml, place, "two versions of this file were not merged")
        .expected("one of the two versions, without the lines that begin with `<<<<<<<`, `=======` and `>>>>>>>`")
        .help("choose between the two and take these lines out")
}

pub(super) fn merge_key(place: &Place, problems: &mut Problems) {
    problems.push(
        Diagnostic::error(Code::TagOrAnchor, place, "`<<` does not merge here")
            .help("write the keys out where they are needed"),
    );
}

pub(super) fn twice(key: &At<String>, first: &Place, problems: &mut Problems) {
    problems.push(
        Diagnostic::error(Code::DuplicateKey, &key.place, format!("`{}` appears twice", key.value))
            .label("again here")
            .also(first, "first here")
            .help(match in_list(first) {
                true => format!("begin the next item with `- {}:`, or keep one of the two", key.value),
                false => "keep one of the two, or give the other the name that was meant".to_owned(),
            }),
    );
}

/// Whether a key is the first of an item of a list.
fn in_list(key: &Place) -> bool {
    let before = &key.source().text[..key.range().start];
    before[before.rfind('\n').map_or(0, |newline| newline + 1)..].trim() == "-"
}

/// A comma between digits: to YAML it parts two values in brackets.
fn number_with_comma(key: &At<String>, source: &Source) -> Option<String> {
    let before = source.text[..key.place.range().start].trim_end().strip_suffix(',')?;
    let whole = &before[before.trim_end_matches(|c: char| c.is_ascii_digit()).len()..];
    let part: String = key.value.chars().take_while(char::is_ascii_digit).collect();
    if whole.is_empty() || part.is_empty() {
        return None;
    }
    let thousands =
        if part.len() == 3 { format!(", and thousands without a mark: `{whole}{part}`") } else { String::new() };
    Some(format!("in brackets a comma separates two values; a decimal mark is a point: `{whole}.{part}`{thousands}"))
}

pub(super) fn nothing_after(key: &At<String>, value: &Place, source: &Arc<Source>, problems: &mut Problems) {
    let followed = source.text[key.place.range().end..].trim_start().starts_with(':');
    let both = key.place.to(value);
    let problem = Diagnostic::error(Code::WrongShape, &both, format!("there is nothing after `{}:`", key.value));
    // `{a:1}` is one word to YAML, and no colon follows it.
    problems.push(match (followed, key.value.split_once(':')) {
        (false, Some((name, value))) => {
            Diagnostic::error(Code::WrongShape, &both, format!("`{}` is one word here", key.value))
                .expected("a key, a colon, a space and a value")
                .help(format!("write a space after the colon: `{name}: {value}`"))
                .mend_word(&key.value, &format!("{name}: {value}"))
        }
        (false, None) => {
            let problem = Diagnostic::error(Code::WrongShape, &both, format!("`{}` has no value", key.value))
                .expected("a key, a colon, a space and a value");
            match (number_with_comma(key, source), key.value.split_once('=')) {
                (Some(help), _) => problem.help(help),
                (None, Some((name, value))) => {
                    let colon = format!("{}: {}", name.trim(), value.trim());
                    problem.help(format!("write a colon for the `=`: `{colon}`")).mend_word(&key.value, &colon)
                }
                (None, None) => problem.help(
                    "put the text that the comma before it belongs to in quotes, or write a colon and a value after it",
                ),
            }
        }
        (true, _) => problem.expected("a value").help(
            "write the value, or leave the key out: keys below it are indented deeper, and what nobody knows yet is \
             `unknown` in a family",
        ),
    });
}

pub(super) fn nothing_here(place: &Place, problems: &mut Problems) {
    problems.push(
        Diagnostic::error(Code::WrongShape, place, "an empty item of a list")
            .expected("a value")
            .help("write the value, or remove the item"),
    );
}

pub(super) fn no_key(place: &Place, problems: &mut Problems) {
    problems.push(
        Diagnostic::error(Code::InvalidYaml, place, "no key stands before the colon")
            .expected("a key, a colon, a space and a value")
            .help("write the key, or put text that begins with a colon in quotes"),
    );
}

/// Plain words that are not what they look like.
pub(super) fn word(text: &str, place: &Place, problems: &mut Problems) {
    if number::is_two_faced(text) {
        let lower = text.to_lowercase();
        let truth = matches!(lower.as_str(), "yes" | "on");
        problems.push(
            Diagnostic::error(
                Code::TwoFacedWord,
                place,
                format!("`{text}` is text to some readers of YAML and `{truth}` to others"),
            )
            .help(format!("write \"{text}\" in quotes if the word is meant, or `{truth}`")),
        );
    } else if number::is_not_finite(text) {
        problems.push(
            Diagnostic::error(Code::NonFiniteLiteral, place, format!("`{text}` is not a finite number"))
                .help("write the number; a value that nobody knows is `unknown` in a family, and left out elsewhere"),
        );
    }
}

/// `Pin #2`: what begins with the sign is a comment to YAML, though nobody writes comments like that.
pub(super) fn cut_by_comment(place: &Place, problems: &mut Problems) {
    let rest = place.source().text[place.range().end..].lines().next().unwrap_or_default();
    let comment = rest.trim_start();
    let of_text = comment.strip_prefix('#').is_some_and(|after| after.starts_with(|c: char| c.is_ascii_digit()));
    if of_text && rest.len() > comment.len() {
        let message = format!("YAML takes `{}` for a comment", comment.trim_end());
        problems.push(
            Diagnostic::warning(Code::TwoFacedWord, place, message)
                .help("put the whole text in quotes if it belongs to it, or write a space after the `#`"),
        );
    }
}

/// A list item indented deeper than the one before it becomes part of that one's text.
pub(super) fn swallowed_item(place: &Place, problems: &mut Problems) {
    let text = place.text();
    if !text.as_bytes().contains(&b'\n') {
        return;
    }
    for (at, _) in text.match_indices('\n') {
        let line = &text[at + 1..];
        let indent = line.len() - line.trim_start().len();
        if line[indent..].starts_with("- ") {
            let start = at + 1 + indent;
            let end = start + line[indent..].lines().next().unwrap_or("").len();
            problems.push(
                Diagnostic::error(
                    Code::InvalidYaml,
                    &place.slice(start..end),
                    "this item belongs to the text of the line above it",
                )
                .also(&place.slice(0..text.find('\n').unwrap_or(text.len())), "this text goes on")
                .help("indent it as far as the items above, or put the text above in quotes"),
            );
        }
    }
}
