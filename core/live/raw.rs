//! The raw bytes of what is followed, kept beside the journal until a step takes them as evidence.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Bytes as they came. A stream that begins anew goes on in another file.
pub struct Raw {
    folder: PathBuf,
    name: String,
    part: u32,
    file: Option<File>,
    /// Bytes have come since they were last taken.
    grown: bool,
}

impl Raw {
    /// `folder`: that of the journal. `name`: what the file was called.
    pub fn new(folder: &Path, name: &str) -> Self {
        Self { folder: folder.join("stream"), name: name.to_owned(), part: 0, file: None, grown: false }
    }

    pub fn path(&self) -> PathBuf {
        match Path::new(&self.name).extension() {
            Some(ending) => {
                let stem = Path::new(&self.name).file_stem().unwrap_or_default().to_string_lossy();
                self.folder.join(format!("{stem}-{}.{}", self.part, ending.to_string_lossy()))
            }
            None => self.folder.join(format!("{}-{}.csv", self.name, self.part)),
        }
    }

    pub fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.file.is_none() {
            fs::create_dir_all(&self.folder)?;
            // An earlier sitting may have left some: its bytes are evidence already or were never used.
            while self.path().exists() {
                self.part += 1;
            }
            self.file = Some(OpenOptions::new().create_new(true).append(true).open(self.path())?);
        }
        if let Some(file) = &mut self.file {
            file.write_all(bytes)?;
            self.grown |= !bytes.is_empty();
        }
        Ok(())
    }

    pub fn anew(&mut self) {
        self.file = None;
        self.part += 1;
    }

    /// The file to keep as evidence; none if nothing has come since it was last kept.
    pub fn take(&mut self) -> Option<PathBuf> {
        std::mem::take(&mut self.grown).then(|| self.path())
    }
}
