//! The secret of a workshop, by which people are called in the archive. It lies beside the shop file and goes nowhere else.

use std::path::Path;

use ring::hmac;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

/// What the file is called.
pub const FILE: &str = "archive.key";
const LARGEST: u64 = 4096;

pub struct Key(hmac::Key);

impl Key {
    /// The key in a folder; made, if there is none. Whether it was made.
    ///
    /// Errors: one that can't be read or is none; a folder that can't be written.
    pub fn of(folder: &Path) -> Result<(Self, bool), Box<Diagnostic>> {
        let path = folder.join(FILE);
        if path.symlink_metadata().is_ok() {
            return Ok((Self::read(&path)?, false));
        }
        let mut key = [0; 32];
        getrandom::fill(&mut key).map_err(|fault| unwritten(&path, &fault.to_string()))?;
        standpipe_disk::whole_secret(&path, format!("{}\n", hex(&key)).as_bytes())
            .map_err(|fault| unwritten(&path, &fault.to_string()))?;
        Ok((Self::new(&key), true))
    }

    fn read(path: &Path) -> Result<Self, Box<Diagnostic>> {
        let text = standpipe_disk::text(path, LARGEST).map_err(|fault| faulty(path, &fault.to_string()))?;
        let digits = text.trim().as_bytes();
        let mut key = [0; 32];
        if digits.len() != 64 || !digits.iter().all(u8::is_ascii_hexdigit) {
            return Err(faulty(path, "it is not a key of 64 hexadecimal digits"));
        }
        let digit = |byte: u8| char::from(byte).to_digit(16).unwrap_or_default() as u8;
        for (byte, pair) in key.iter_mut().zip(digits.chunks_exact(2)) {
            *byte = digit(pair[0]) << 4 | digit(pair[1]);
        }
        Ok(Self::new(&key))
    }

    /// HMAC with SHA-256, by RFC 2104.
    fn new(key: &[u8]) -> Self {
        Self(hmac::Key::new(hmac::HMAC_SHA256, key))
    }

    /// What somebody or something is called in the archive: the same in one shop, and nothing to anybody without the key.
    pub fn name(&self, shop: &str, of: &str, id: &str) -> String {
        hex(&hmac::sign(&self.0, [shop, of, id].join("\0").as_bytes()).as_ref()[..16])
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn about(path: &Path, code: Code, message: String) -> Diagnostic {
    Diagnostic::error(code, &Place::whole(&Source::new(path.display().to_string(), "")), message)
}

fn faulty(path: &Path, why: &str) -> Box<Diagnostic> {
    let message = format!("the key of this workshop can't be used: {why}");
    let help =
        "put the file back from a copy; with a different key the same people would have different names in the archive";
    Box::new(about(path, Code::UnreadableFile, message).help(help))
}

fn unwritten(path: &Path, why: &str) -> Box<Diagnostic> {
    Box::new(about(path, Code::Unwritable, format!("the key of this workshop can't be kept: {why}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Archives of earlier versions have these names. Worked out by `hmac` of Python 3.
    #[test]
    fn the_same_key_gives_the_same_names() {
        let key = Key::new(&(0..32).collect::<Vec<u8>>());
        assert_eq!(key.name("shop", "person", "jo"), "cdc846909441b6040f185070ef11d6b7");
        assert_ne!(key.name("shop", "personj", "o"), key.name("shop", "person", "jo"));
    }
}
