//! Tokens in the place of texts, and the texts into their file, before anything names them.

use std::collections::HashMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::token::is_in;
use super::values::{Line, Values};
use super::{Class, FILE, LARGEST, Opening};

/// Of one folder, in which the same text has the same token.
#[derive(Debug)]
pub struct Sealer {
    path: PathBuf,
    known: HashMap<(Class, String), String>,
    /// Not in the file yet.
    new: Vec<Line>,
    /// Whether its end is known to be that of a line.
    is_whole: bool,
}

impl Sealer {
    /// For a folder that has none yet.
    pub fn new(folder: &Path) -> Self {
        Self { path: folder.join(FILE), known: HashMap::new(), new: Vec::new(), is_whole: false }
    }

    /// Goes on with what is there.
    pub fn with(folder: &Path, values: &Values) -> Self {
        let known = values.lines.iter().map(|line| ((line.of, line.value.clone()), line.token.clone())).collect();
        Self { known, ..Self::new(folder) }
    }

    /// Puts its token in the place of a text. Nothing at all stays: whether something was said is no secret, and where nothing
    /// may be said a token would be something.
    ///
    /// Errors: a text that has a token in it, which would be opened as what it is not; no random bits.
    pub fn seal(&mut self, class: Class, text: &mut String) -> io::Result<()> {
        if text.is_empty() {
            return Ok(());
        }
        if is_in(text) {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, "it has the form of what stands for a text"));
        }
        let key = (class, std::mem::take(text));
        if let Some(token) = self.known.get(&key) {
            text.clone_from(token);
            return Ok(());
        }
        let mut salt = [0; 16];
        getrandom::fill(&mut salt).map_err(|fault| io::Error::other(fault.to_string()))?;
        let line = Line::new(class, &salt, &key.1);
        text.clone_from(&line.token);
        self.known.insert(key, line.token.clone());
        self.new.push(line);
        Ok(())
    }

    /// Adds what is new to the file; it is on the disk when this returns.
    ///
    /// Errors: it may be there in part. The next time it is added as a whole.
    pub fn write(&mut self) -> io::Result<()> {
        if self.new.is_empty() {
            return Ok(());
        }
        let is_new = !self.path.exists();
        let mut file = standpipe_disk::append(&self.path, true)?;
        if !std::mem::replace(&mut self.is_whole, false) {
            let bytes = standpipe_disk::bytes(&self.path, LARGEST)?;
            let end = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
            match serde_json::from_slice::<Line>(&bytes[end..]) {
                // Whole, but for its line feed.
                Ok(_) => file.write_all(b"\n")?,
                // Never finished, so that nothing names it.
                Err(_) => file.set_len(end as u64)?,
            }
        }
        let lines: String = self.new.iter().map(Line::written).collect();
        file.write_all(lines.as_bytes()).and_then(|()| file.sync_data())?;
        if is_new {
            standpipe_disk::sync(self.path.parent().unwrap_or(Path::new(".")))?;
        }
        self.is_whole = true;
        self.new.clear();
        Ok(())
    }

    /// All that it knows, opened again.
    pub fn opening(&self) -> Opening {
        let lines = self.known.iter().map(|((of, value), token)| Line::known(*of, token, value)).collect();
        let chain: Vec<&[u8]> = self.known.values().map(|token| token.as_bytes()).collect();
        Opening::new(&Values { lines, faults: Vec::new() }, chain)
    }
}
