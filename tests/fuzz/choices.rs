//! Bytes as choices: a fuzzer that changes one byte changes one choice.

pub struct Choices<'a>(&'a [u8]);

impl<'a> Choices<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self(bytes)
    }

    /// Whether none is left; whoever asks on gets the first of everything.
    pub fn are_spent(&self) -> bool {
        self.0.is_empty()
    }

    pub fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else { return 0 };
        self.0 = rest;
        *first
    }

    /// At most 256 ways.
    pub fn below(&mut self, count: usize) -> usize {
        usize::from(self.byte()) % count.max(1)
    }

    pub fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// True about once in so many times; false where nothing is left.
    pub fn rarely(&mut self, one_in: u8) -> bool {
        self.byte() % one_in == one_in - 1
    }

    /// The next few bytes, at most so many.
    pub fn bytes(&mut self, most: usize) -> &'a [u8] {
        let count = self.below(most + 1).min(self.0.len());
        let (taken, rest) = self.0.split_at(count);
        self.0 = rest;
        taken
    }

    /// The next few bytes as text.
    pub fn text(&mut self, most: usize) -> String {
        String::from_utf8_lossy(self.bytes(most)).into_owned()
    }

    pub fn rest(self) -> &'a [u8] {
        self.0
    }
}
