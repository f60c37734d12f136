//! The secret of a workshop, by which people are called in the archive. It lies beside the shop file and goes nowhere else.

use std::path::Path;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

use crate::hmac::hmac;

/// What the file is called.
pub const FILE: &str = "archive.key";
const LARGEST: u64 = 4096;

pub struct Key([u8; 32]);

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
        Ok((Self(key), true))
    }

    fn read(path: &Path) -> Result<Self, Box<Diagnostic>> {
        let text = standpipe_disk::text(path, LARGEST).map_err(|fault| faulty(path, &fault.to_string()))?;
        let digits = text.trim().as_bytes();
        let mut key = [0; 32];
        if digits.len() != 64 || !digits.iter().all(u8::is_ascii_hexdigit) {
            return Err(faulty(path, "it is no key of 64 hexadecimal digits"));
        }
        let digit = |byte: u8| char::from(byte).to_digit(16).unwrap_or_default() as u8;
        for (byte, pair) in key.iter_mut().zip(digits.chunks_exact(2)) {
            *byte = digit(pair[0]) << 4 | digit(pair[1]);
        }
        Ok(Self(key))
    }

    /// What somebody or something is called in the archive: the same in one shop, and nothing to anybody without the key.
    pub fn name(&self, shop: &str, of: &str, id: &str) -> String {
        let parts = [shop.as_bytes(), b"\0", of.as_bytes(), b"\0", id.as_bytes()];
        hex(&hmac(&self.0, &parts)[..16])
    }
}

pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn about(path: &Path, code: Code, message: String) -> Diagnostic {
    Diagnostic::error(code, &Place::whole(&Source::new(path.display().to_string(), "")), message)
}

fn faulty(path: &Path, why: &str) -> Box<Diagnostic> {
    let message = format!("the key of this workshop can't be used: {why}");
    let help = "put the file back from a copy; with another key the same people would have other names in the archive";
    Box::new(about(path, Code::UnreadableFile, message).help(help))
}

fn unwritten(path: &Path, why: &str) -> Box<Diagnostic> {
    Box::new(about(path, Code::Unwritable, format!("the key of this workshop can't be kept: {why}")))
}
