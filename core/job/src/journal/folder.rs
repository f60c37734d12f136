//! Files of a journal's folder: read with a limit, written so that they are there in full or not at all.

use std::io::{self};
use std::path::Path;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

/// A file without a place inside it.
pub(super) fn place_of(path: &Path) -> Place {
    Place::whole(&Source::new(path.display().to_string(), ""))
}

/// Reads a regular file whole.
pub(super) fn read(path: &Path, most: u64) -> Result<Vec<u8>, Box<Diagnostic>> {
    let place = place_of(path);
    let fail = |fault: io::Error| {
        let message = format!("`{}` can't be read: {fault}", path.display());
        let problem =
            Diagnostic::error(Code::UnreadableFile, &place, message).expected("a journal's folder, as `run` makes it");
        Box::new(problem.help("check the path and who may read it"))
    };
    standpipe_disk::bytes(path, most).map_err(|fault| match fault.kind() {
        io::ErrorKind::InvalidInput => {
            Box::new(Diagnostic::error(Code::UnreadableFile, &place, format!("`{}` is not a file", path.display())))
        }
        io::ErrorKind::FileTooLarge => {
            let message = format!("`{}`: {fault}", path.display());
            Box::new(Diagnostic::error(Code::NotText, &place, message).expected(format!("at most {most} bytes")))
        }
        _ => fail(fault),
    })
}

/// A message for something that could not be written.
pub(super) fn unwritten(path: &Path, fault: &io::Error) -> Box<Diagnostic> {
    let help = match fault.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => "make room on the disk and run the job again",
        _ => "make the folder writable, or name another one with `--journal DIR`",
    };
    let message = format!("`{}` can't be written: {fault}", path.display());
    Box::new(Diagnostic::error(Code::Unwritable, &place_of(path), message).help(help))
}
