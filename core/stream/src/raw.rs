//! The raw bytes of what is followed, kept once beside the journal. An entry names how far they went, and their hash.

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use standpipe_job::journal::evidence::{LARGEST, STREAMS};
use standpipe_job::{EvidenceRef, StreamPart};

/// Bytes as they came. A stream that begins anew goes on in another file.
pub struct Raw {
    folder: PathBuf,
    name: String,
    part: u32,
    file: Option<File>,
    bytes: u64,
    /// Over all bytes of the file.
    sum: Sha256,
}

impl Raw {
    /// `folder`: that of the journal. `name`: what the file was called.
    pub fn new(folder: &Path, name: &str) -> Self {
        let folder = folder.join(STREAMS);
        Self { folder, name: name.to_owned(), part: 0, file: None, bytes: 0, sum: Sha256::new() }
    }

    fn file_name(&self) -> String {
        let name = Path::new(&self.name);
        match name.extension() {
            Some(ending) => {
                let stem = name.file_stem().unwrap_or_default().to_string_lossy();
                format!("{stem}-{}.{}", self.part, ending.to_string_lossy())
            }
            None => format!("{}-{}.csv", self.name, self.part),
        }
    }

    /// Errors: those of the disk, and more bytes in one file than any evidence may have; nothing of them is written then.
    pub fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.bytes + bytes.len() as u64 > LARGEST {
            let message = format!("it sent more than {} MiB", LARGEST >> 20);
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, message));
        }
        if self.file.is_none() {
            standpipe_disk::folder(&self.folder)?;
            // An earlier sitting may have left some: its bytes are evidence already or were never used.
            while self.folder.join(self.file_name()).symlink_metadata().is_ok() {
                self.part += 1;
            }
            let path = self.folder.join(self.file_name());
            self.file = Some(standpipe_disk::create(&path)?);
        }
        if let Some(file) = &mut self.file {
            file.write_all(bytes)?;
            self.sum.update(bytes);
            self.bytes += bytes.len() as u64;
        }
        Ok(())
    }

    pub fn anew(&mut self) {
        (self.file, self.bytes, self.sum) = (None, 0, Sha256::new());
        self.part += 1;
    }

    /// What has come so far, as evidence, once it is on the disk; none if nothing has come.
    pub fn so_far(&self) -> io::Result<Option<EvidenceRef>> {
        let Some(file) = self.file.as_ref().filter(|_| self.bytes > 0) else { return Ok(None) };
        file.sync_data()?;
        let sha256 = format!("{:x}", self.sum.clone().finalize());
        let of = Some(StreamPart { file: self.file_name(), bytes: self.bytes });
        Ok(Some(EvidenceRef { sha256, name: self.name.clone(), of }))
    }
}
