//! Texts in the place of their tokens, wherever these stand.

use std::borrow::Cow;
use std::collections::HashMap;

use super::token::in_bytes;
use super::values::{Fault, Values};

/// What each token is shown as.
#[derive(Clone, Debug, Default)]
pub struct Opening {
    shown: HashMap<String, String>,
    /// How many texts are there.
    pub kept: u64,
    /// How many are not.
    pub left_out: u64,
    /// What is wrong with those that lie there.
    pub faults: Vec<Fault>,
}

/// What stands for a text that is not there.
fn word(number: u64) -> String {
    format!("left out {number}")
}

impl Opening {
    /// Of all tokens that stand in these bytes, numbered in their order. What no token names is not looked at.
    pub fn new<'b>(values: &Values, chain: impl IntoIterator<Item = &'b [u8]>) -> Self {
        let known: HashMap<&str, &str> =
            values.lines.iter().map(|line| (line.token.as_str(), line.value.as_str())).collect();
        let mut opening = Self { faults: values.faults.clone(), ..Self::default() };
        for bytes in chain {
            for range in in_bytes(bytes) {
                let token = String::from_utf8_lossy(&bytes[range]).into_owned();
                let Opening { shown, kept, left_out, .. } = &mut opening;
                shown.entry(token).or_insert_with_key(|token| match known.get(token.as_str()) {
                    Some(value) => {
                        *kept += 1;
                        (*value).to_owned()
                    }
                    None => {
                        *left_out += 1;
                        word(*left_out)
                    }
                });
            }
        }
        opening
    }

    /// A text with what its tokens stand for.
    pub fn opened<'t>(&self, text: &'t str) -> Cow<'t, str> {
        let mut open = String::new();
        let mut at = 0;
        for range in in_bytes(text.as_bytes()) {
            let Some(value) = self.shown.get(&text[range.clone()]) else { continue };
            open.push_str(&text[at..range.start]);
            open.push_str(value);
            at = range.end;
        }
        if at == 0 {
            return Cow::Borrowed(text);
        }
        open.push_str(&text[at..]);
        Cow::Owned(open)
    }

    /// The same in its place.
    pub fn open(&self, text: &mut String) {
        if let Cow::Owned(open) = self.opened(text) {
            *text = open;
        }
    }

    /// Does this stand for a text that is not there?
    pub fn is_left_out(&self, text: &str) -> bool {
        text.strip_prefix("left out ")
            .and_then(|number| number.parse().ok())
            .is_some_and(|number: u64| (1..=self.left_out).contains(&number) && text == word(number))
    }

    /// Does anything in it? What says so in one job is another text in the next.
    pub fn lacks(&self, text: &str) -> bool {
        text.match_indices("left out ").any(|(at, word)| {
            let digits = text[at + word.len()..].bytes().take_while(u8::is_ascii_digit).count();
            self.is_left_out(&text[at..at + word.len() + digits])
        })
    }

    /// Whether a token stands in what was looked at.
    pub fn names(&self, token: &str) -> bool {
        self.shown.contains_key(token)
    }
}
