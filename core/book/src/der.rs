//! DER, as far as a time stamp needs it: ITU-T X.690, chapters 8 and 10. Lengths are said, never left open.

pub const INTEGER: u8 = 0x02;
pub const OCTETS: u8 = 0x04;
pub const OBJECT: u8 = 0x06;
pub const TIME: u8 = 0x18;
pub const SEQUENCE: u8 = 0x30;
pub const SET: u8 = 0x31;
/// `[0]`, around something else.
pub const FIRST: u8 = 0xa0;

/// What is still to be read of a sequence.
#[derive(Clone, Copy, Debug)]
pub struct Der<'a>(pub &'a [u8]);

impl<'a> Der<'a> {
    /// The next element, if it is of this kind: what is in it.
    pub fn take(&mut self, kind: u8) -> Option<&'a [u8]> {
        let (found, rest) = self.0.split_first()?;
        let (first, rest) = rest.split_first()?;
        let (length, rest) = match *first {
            short @ 0..=0x7f => (usize::from(short), rest),
            // More bytes than these has no answer that is taken.
            long @ 0x81..=0x83 => {
                let (digits, rest) = rest.split_at_checked(usize::from(long & 0x7f))?;
                (digits.iter().fold(0, |sum, digit| sum << 8 | usize::from(*digit)), rest)
            }
            _ => return None,
        };
        let (content, rest) = rest.split_at_checked(length)?;
        self.0 = rest;
        (*found == kind).then_some(content)
    }

    /// The next element, to read on in it.
    pub fn enter(&mut self, kind: u8) -> Option<Self> {
        self.take(kind).map(Der)
    }
}

/// A short element.
pub fn element(kind: u8, content: &[u8]) -> Vec<u8> {
    debug_assert!(content.len() < 0x80);
    [&[kind, content.len() as u8], content].concat()
}
