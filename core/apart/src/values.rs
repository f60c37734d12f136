//! The texts with their random bits, as they lie beside the chain: a line for each.

use std::io;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::token::{self, Salt};
use super::{Class, FILE, LARGEST};

/// One text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// What stands in the chain.
    pub token: String,
    /// What it may be left out with.
    pub of: Class,
    /// 32 hexadecimal digits.
    salt: String,
    /// The text itself.
    pub value: String,
}

impl Line {
    pub(super) fn new(of: Class, salt: &Salt, value: &str) -> Self {
        let digits = salt.iter().map(|byte| format!("{byte:02x}")).collect();
        Self { token: token::of(of, salt, value), of, salt: digits, value: value.to_owned() }
    }

    /// One whose random bits are in the file alone.
    pub(super) fn known(of: Class, token: &str, value: &str) -> Self {
        Self { token: token.to_owned(), of, salt: String::new(), value: value.to_owned() }
    }

    /// Whether the token is that of this text.
    fn fits(&self) -> bool {
        let number = (self.salt.len() == 32).then(|| u128::from_str_radix(&self.salt, 16).ok()).flatten();
        number.is_some_and(|salt| token::of(self.of, &salt.to_be_bytes(), &self.value) == self.token)
    }

    /// With its line feed.
    pub fn written(&self) -> String {
        // Plain strings: there is nothing in it that could fail to serialise.
        serde_json::to_string(self).unwrap_or_default() + "\n"
    }
}

/// A line that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Counted from 1; 0 for the file as a whole.
    pub line: u64,
    /// What is wrong with it.
    pub message: String,
}

/// All that is there.
#[derive(Clone, Debug, Default)]
pub struct Values {
    /// Those that fit their tokens.
    pub lines: Vec<Line>,
    /// Those that don't.
    pub faults: Vec<Fault>,
}

impl Values {
    /// Of a folder. A file that is not there has no values: they were left out.
    pub fn read(folder: &Path) -> Self {
        let path = folder.join(FILE);
        match standpipe_disk::bytes(&path, LARGEST) {
            Ok(bytes) => Self::of(&bytes),
            Err(fault) if fault.kind() == io::ErrorKind::NotFound => Self::default(),
            Err(fault) => {
                let message = format!("`{}` can't be read: {fault}", path.display());
                Self { lines: Vec::new(), faults: vec![Fault { line: 0, message }] }
            }
        }
    }

    fn of(bytes: &[u8]) -> Self {
        let mut values = Self::default();
        let mut lines = bytes.split(|byte| *byte == b'\n').zip(1..).peekable();
        while let Some((raw, line)) = lines.next() {
            let mut fault = |message: &str| values.faults.push(Fault { line, message: message.to_owned() });
            match serde_json::from_slice::<Line>(raw) {
                Ok(kept) if kept.fits() => values.lines.push(kept),
                Ok(_) => fault("this is not the text that the journal was written with: its token differs"),
                // Behind the last line feed nothing, or a line that was never finished: no chain names it.
                Err(_) if lines.peek().is_none() => {}
                Err(_) => fault("the program writes no such line"),
            }
        }
        values
    }
}
