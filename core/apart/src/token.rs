//! What stands in the chain for a text: a hash that commits to it.

use std::ops::Range;

use sha2::{Digest, Sha256};

use super::Class;

/// Where it may stand: a text of JSON, a word of YAML without quotes, and within other text, where it ends by its length.
const LEAD: &str = "apart-";
const DIGITS: usize = 64;
/// A hash that was made for anything else is no token.
const DOMAIN: &[u8] = b"standpipe.apart/1\0";

/// 128 random bits.
pub(super) type Salt = [u8; 16];

pub(super) fn of(class: Class, salt: &Salt, value: &str) -> String {
    let hash = Sha256::new_with_prefix(DOMAIN);
    let hash = hash.chain_update(class.word()).chain_update([0]).chain_update(salt).chain_update(value);
    format!("{LEAD}{:x}", hash.finalize())
}

/// Where tokens stand in these bytes, in their order.
pub fn in_bytes(bytes: &[u8]) -> impl Iterator<Item = Range<usize>> {
    let mut at = 0;
    std::iter::from_fn(move || {
        while let Some(found) = bytes[at..].windows(LEAD.len()).position(|part| part == LEAD.as_bytes()) {
            let start = at + found;
            let end = start + LEAD.len() + DIGITS;
            let digits = bytes.get(start + LEAD.len()..end);
            if digits.is_some_and(|digits| digits.iter().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))) {
                at = end;
                return Some(start..end);
            }
            at = start + 1;
        }
        None
    })
}

/// Nobody types one: whoever does is refused, so that none stands for anything but what it was made of.
pub fn is_in(text: &str) -> bool {
    in_bytes(text.as_bytes()).next().is_some()
}
