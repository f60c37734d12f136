//! A column of words: each gets a number.

use indexmap::IndexMap;

use super::Encoding;
use super::number::is_absent;
use super::understood::ColumnRead;

/// More words than a lever has positions are no words but something else.
const MOST: usize = 200;

#[derive(Default)]
pub(super) struct Words {
    known: Vec<String>,
    by_cell: IndexMap<Vec<u8>, usize>,
    /// Of the cell that came last, by its place in `by_cell`: mostly the same comes again.
    last: usize,
}

impl Words {
    pub fn known(&self) -> &[String] {
        &self.known
    }

    /// None for a cell without a word, and for one too many.
    #[inline]
    pub fn number(&mut self, cell: &[u8], read: &ColumnRead, encoding: Encoding) -> Option<usize> {
        match self.by_cell.get_index(self.last) {
            Some((known, number)) if known == cell => Some(*number),
            _ => self.look_up(cell, read, encoding),
        }
    }

    fn look_up(&mut self, cell: &[u8], read: &ColumnRead, encoding: Encoding) -> Option<usize> {
        if is_absent(cell) {
            return None;
        }
        if let Some((last, _, number)) = self.by_cell.get_full(cell) {
            self.last = last;
            return Some(*number);
        }
        if self.by_cell.len() >= MOST {
            return None;
        }
        let text = encoding.text(cell);
        let word = read.stands_for.get(&text.to_lowercase()).cloned().unwrap_or(text);
        let number = self.known.iter().position(|known| *known == word).unwrap_or_else(|| {
            self.known.push(word);
            self.known.len() - 1
        });
        self.last = self.by_cell.insert_full(cell.to_vec(), number).0;
        Some(number)
    }
}
