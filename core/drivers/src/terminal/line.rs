//! One line that is typed: text and cursor.

use super::key::Key;
use standpipe_diagnostic::columns::width;

/// Longer than any reading or remark; a stuck key or a pasted file stops here.
const LONGEST: usize = 500;

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Line {
    text: String,
    /// Byte offset of the cursor, always between characters.
    cursor: usize,
}

impl Line {
    pub fn new(text: &str) -> Self {
        Self { text: text.to_owned(), cursor: text.len() }
    }

    pub fn text(&self) -> &str {
        &self.text
    }

    pub fn is_empty(&self) -> bool {
        self.text.is_empty()
    }

    /// Columns before the cursor.
    pub fn column(&self) -> usize {
        width(&self.text[..self.cursor])
    }

    /// Takes a key; `false` if it is none that edits.
    pub fn key(&mut self, key: Key) -> bool {
        match key {
            Key::Char(c) if !c.is_control() => {
                if self.text.len() < LONGEST {
                    self.text.insert(self.cursor, c);
                    self.cursor += c.len_utf8();
                }
            }
            Key::Backspace => {
                if let Some(before) = self.before() {
                    self.text.remove(before);
                    self.cursor = before;
                }
            }
            Key::Delete => {
                if self.cursor < self.text.len() {
                    self.text.remove(self.cursor);
                }
            }
            Key::Left => self.cursor = self.before().unwrap_or(0),
            Key::Right => {
                if let Some(c) = self.text[self.cursor..].chars().next() {
                    self.cursor += c.len_utf8();
                }
            }
            Key::Home => self.cursor = 0,
            Key::End => self.cursor = self.text.len(),
            Key::Clear => *self = Self::default(),
            _ => return false,
        }
        true
    }

    fn before(&self) -> Option<usize> {
        self.text[..self.cursor].char_indices().next_back().map(|(index, _)| index)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str, keys: &[Key]) -> Line {
        let mut line = Line::new(text);
        for key in keys {
            line.key(*key);
        }
        line
    }

    #[test]
    fn editing_works_in_characters_not_bytes() {
        assert_eq!(typed("38 °C", &[Key::Left, Key::Backspace, Key::Char('K')]).text(), "38 KC");
        assert_eq!(typed("°", &[Key::Home, Key::Delete]).text(), "");
        assert_eq!(typed("", &[Key::Backspace, Key::Left, Key::Right, Key::Delete]).text(), "");
        assert_eq!(typed("ab", &[Key::Home, Key::Char('x'), Key::End, Key::Char('y')]).text(), "xaby");
        assert_eq!(typed("°ab", &[Key::Left]).column(), 2);
    }

    #[test]
    fn a_pasted_file_does_not_fill_the_memory() {
        let mut line = Line::default();
        for _ in 0..10_000 {
            line.key(Key::Char('x'));
        }
        assert_eq!(line.text().len(), LONGEST);
    }
}
