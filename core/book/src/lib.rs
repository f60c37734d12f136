#![doc = include_str!("../README.md")]

mod chain;
mod der;
pub mod extract;
mod held;
mod line;
pub mod stamp;
#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test says by failing what was wrong")]
mod tests;

pub use chain::NEWER;
pub use held::Held;
pub use line::{Entry, FORMAT, Line, Signature, What};

use std::io::Write;
use std::path::{Path, PathBuf};

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

/// What the file is called, in whatever folder the jobs lie.
pub const FILE: &str = "book.jsonl";
/// A line is some 400 bytes: ten thousand jobs a year, four lines each, for ten years.
const LARGEST: u64 = 256 << 20;

/// The book of a folder of jobs. Nothing is held open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Book {
    folder: PathBuf,
}

impl Book {
    /// The book that lies beside the folder of a job, if there is one. Something of its name that is no file counts: it is refused when
    /// it is written or read, not passed over.
    pub fn beside(job: &Path) -> Option<Self> {
        // The parent of `van.job` is the folder that the program was started in.
        let whole = std::path::absolute(job).ok()?;
        Self::of(whole.parent()?)
    }

    /// What a job's folder is called in the book.
    pub fn name_of(job: &Path) -> String {
        let whole = std::path::absolute(job).unwrap_or_else(|_| job.to_owned());
        whole.file_name().unwrap_or_default().to_string_lossy().into_owned()
    }

    /// The book of this folder, if it has one.
    pub fn of(folder: &Path) -> Option<Self> {
        folder.join(FILE).symlink_metadata().is_ok().then(|| Self { folder: folder.to_owned() })
    }

    /// Makes an empty one. Errors: there is one; the folder can't be written.
    pub fn begin(folder: &Path, at: &str) -> Result<Self, Box<Diagnostic>> {
        let path = folder.join(FILE);
        let line = chain::written(FORMAT, 1, "", &Entry::begun(at));
        standpipe_disk::create(&path)
            .and_then(|mut file| {
                file.write_all(line.as_bytes())?;
                file.sync_all()
            })
            .map_err(|fault| match fault.kind() {
                std::io::ErrorKind::AlreadyExists => faulty(&path, "there is a book already"),
                _ => faulty(&path, format!("the book can't be begun: {fault}")),
            })?;
        Ok(Self { folder: folder.to_owned() })
    }

    pub fn path(&self) -> PathBuf {
        self.folder.join(FILE)
    }

    /// Keeps others from entering until something was entered or it is dropped.
    ///
    /// Errors: it can't be written, or its last line does not hold, or somebody else holds it for some seconds.
    pub fn hold(&self) -> Result<Held, Box<Diagnostic>> {
        Held::take(&self.folder, &self.path())
    }

    /// The last line of a folder, if what is in it is closed: the line that closed it, or that of a signature since. As it stands there:
    /// whether it follows from those before, [`Book::read`] says, which reads all of them.
    pub fn closing_line(&self, folder: &str) -> Option<Line> {
        let bytes = standpipe_disk::bytes(&self.path(), LARGEST).ok()?;
        let text = std::str::from_utf8(chain::whole(&bytes)).ok()?;
        let named = format!("\"folder\":{}", serde_json::Value::from(folder));
        let own = text.lines().rev().filter(|line| line.contains(&named));
        let mut own = own.map_while(|line| Some(chain::alone(line.as_bytes()).ok()?.line()));
        let last = own.next()?;
        let work = if last.entry.what == What::Signed {
            own.find(|line| line.entry.what != What::Signed)?
        } else {
            last.clone()
        };
        (last.entry.folder == folder && work.entry.what.closes()).then_some(last)
    }

    /// All lines. Errors: the first that does not follow from the one before, or is no line. A line that was never finished is no
    /// line: nobody was told that it is there.
    pub fn read(&self) -> Result<Vec<Line>, Box<Diagnostic>> {
        let path = self.path();
        let bytes = standpipe_disk::bytes(&path, LARGEST).map_err(|fault| faulty(&path, fault.to_string()))?;
        chain::read(&bytes).map_err(|(line, why)| unread(&path, &format!("line {line}"), why))
    }
}

fn faulty(path: &Path, message: impl Into<String>) -> Box<Diagnostic> {
    let place = Place::whole(&Source::new(path.display().to_string(), ""));
    Box::new(Diagnostic::error(Code::BrokenBook, &place, message))
}

/// Of a line that can't be read: which, and why.
fn unread(path: &Path, line: &str, why: &str) -> Box<Diagnostic> {
    let code = if why == NEWER { Code::NewerVersion } else { Code::BrokenBook };
    Box::new(Diagnostic { code, ..*faulty(path, format!("{line} {why}")) })
}
