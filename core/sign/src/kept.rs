//! A signature is looked at, and kept beside the journal.

use std::io;
use std::path::Path;

use standpipe_book::Book;
use standpipe_diagnostic::Diagnostic;
use standpipe_job::Moment;

use crate::sshsig::Signature;
use crate::statement::Statement;
use crate::{NAMESPACE, entered, folder};

/// Why nothing was signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsigned {
    pub message: String,
    pub help: &'static str,
}

/// Keeps what signs a statement, whoever made it, and enters it in the book that lies beside the job. `armour`: the signature in the
/// lines of OpenSSH. `entered_at`: what the clock says. Returns when all of it is on the disk.
///
/// In this order: a signature that the book lacks can be entered later, but a line whose signature was never kept would accuse
/// somebody of having taken it away.
///
/// Errors: it is none, or does not hold; there is one already; the disk.
pub fn kept(job: &Path, statement: &Statement<'_>, armour: &str, entered_at: Moment) -> Result<Signature, Unsigned> {
    let text = statement.text();
    let signature = Signature::read(armour).map_err(|why| untaken(&why))?;
    if !signature.holds(text.as_bytes(), NAMESPACE) {
        return Err(untaken("it does not hold"));
    }
    let Statement { deed, head, .. } = statement;
    let name = folder::name_of(head, deed.act);
    let bytes = format!("{text}{armour}").into_bytes();
    // What can't be entered is not kept either.
    let held = Book::beside(job).map(|book| book.hold()).transpose();
    let held = held.map_err(|fault| unentered(*fault, "nothing was signed: repair the book, or try again"))?;
    folder::keep(job, &name, &bytes).map_err(|fault| {
        let path = job.join(folder::FOLDER).join(&name);
        let message = format!("the signature can't be kept as `{}`: {fault}", path.display());
        let taken = fault.kind() == io::ErrorKind::AlreadyExists;
        let help = if taken { "if that one does not hold, remove it first" } else { "make the folder writable" };
        Unsigned { message, help }
    })?;
    if let Some(held) = held {
        let entry = entered::entry(statement.job, job, (deed.line, head, deed.act), &bytes, entered_at);
        let kept = "the signature is kept all the same: once the book can be written, `standpipe book JOBS --enter`";
        held.enter(&entry).map_err(|fault| unentered(*fault, kept))?;
    }
    Ok(signature)
}

fn unentered(fault: Diagnostic, help: &'static str) -> Unsigned {
    Unsigned { message: fault.message, help }
}

pub(crate) fn untaken(why: &str) -> Unsigned {
    Unsigned {
        message: format!("what this key signs is not accepted: {why}"),
        help: "use a key made with `ssh-keygen -t ed25519`, or on a page",
    }
}
