//! A copy of a job for somebody, to be looked at here.

use std::io;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

use crate::{Whom, pack};

/// A pack as it would be handed over, as long as this lives.
#[derive(Debug)]
pub struct Copy {
    _folder: TempDir,
    /// The pack.
    pub file: PathBuf,
}

impl Copy {
    /// Errors: those of [`pack`].
    pub fn of(dir: &Path, whom: Whom) -> Result<Self, Box<Diagnostic>> {
        let unmade = |fault: io::Error| {
            let place = Place::whole(&Source::new(dir.display().to_string(), ""));
            Box::new(Diagnostic::error(Code::Unwritable, &place, format!("no copy can be made: {fault}")))
        };
        let folder = tempfile::Builder::new().prefix("standpipe-").tempdir().map_err(unmade)?;
        let file = folder.path().join("copy.zip");
        pack(dir, &file, whom)?;
        Ok(Self { _folder: folder, file })
    }
}
