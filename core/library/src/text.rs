//! One text from the disk, or the reason why not.

use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

pub(super) const LARGEST: u64 = standpipe_disk::TEXT;

/// Reads a file that somebody named: a job, a shop, answers.
pub fn read_file(path: &Path, problems: &mut Problems) -> Option<Arc<Source>> {
    let name = path.display().to_string();
    match read_text(path, &name, &Place::whole(&Source::new(name.clone(), ""))) {
        Ok(text) => Some(Source::new(name, text)),
        Err(problem) => {
            problems.push(*problem);
            None
        }
    }
}

pub(super) fn read_text(path: &Path, name: &str, place: &Place) -> Result<String, Box<Diagnostic>> {
    let broken = |fault| Box::new(unreadable(place, name, &fault));
    let bytes = match standpipe_disk::bytes(path, LARGEST) {
        Ok(bytes) => bytes,
        Err(fault) if matches!(fault.kind(), ErrorKind::InvalidInput | ErrorKind::FileTooLarge) => {
            return Err(Box::new(
                Diagnostic::error(Code::NotText, place, format!("`{name}` is too large, or no ordinary file"))
                    .expected(format!("a text of at most {LARGEST} bytes"))
                    .help("split it, or name another file"),
            ));
        }
        Err(fault) => return Err(broken(fault)),
    };
    String::from_utf8(bytes).map_err(|fault| {
        let at = fault.utf8_error().valid_up_to();
        Box::new(
            Diagnostic::error(Code::NotText, place, format!("`{name}` is not text: byte {} is not UTF-8", at + 1))
                .expected("text in UTF-8")
                .help("save it as UTF-8, or name another file"),
        )
    })
}

pub(super) fn unreadable(place: &Place, name: &str, fault: &std::io::Error) -> Diagnostic {
    // The system's own number of the error says nothing to a person.
    let reason = match fault.kind() {
        ErrorKind::NotFound => "there is no such file or folder".to_string(),
        ErrorKind::PermissionDenied => "you may not read it".to_string(),
        _ => fault.to_string(),
    };
    Diagnostic::error(Code::UnreadableFile, place, format!("`{name}` can't be read: {reason}"))
        .help("check the name, and that you may read it")
}
