//! Signing by OpenSSH: the private key stays with it, or with an agent, and is never seen here.

use std::io::{self, Write};
use std::path::Path;
use std::process::{Command, Stdio};

use standpipe_book::Book;
use standpipe_diagnostic::Diagnostic;
use standpipe_job::Moment;

use crate::sshsig::{Key, Signature};
use crate::statement::Statement;
use crate::{NAMESPACE, entered, folder};

/// Why nothing was signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsigned {
    pub message: String,
    pub help: &'static str,
}

/// Signs an act by the key in a file, or by the agent that holds the key of which this is the public half, and keeps the
/// signature beside the journal; then enters it in the book that lies beside the job. `entered_at`: what the clock says. Returns when
/// all of it is on the disk.
///
/// In this order: a signature that the book lacks can be entered later, but a line whose signature was never kept would accuse
/// somebody of having taken it away.
pub fn sign(job: &Path, statement: &Statement<'_>, key: &Path, entered_at: Moment) -> Result<Signature, Unsigned> {
    let text = statement.text();
    let armour = by_program(key, NAMESPACE, text.as_bytes())?;
    let signature = Signature::read(&armour).map_err(|why| untaken(&why))?;
    if !signature.holds(text.as_bytes(), NAMESPACE) {
        return Err(untaken("it does not hold"));
    }
    let Statement { deed, head, .. } = statement;
    let name = folder::name_of(head, deed.act);
    let bytes = format!("{text}{armour}").into_bytes();
    // What can't be entered is not kept either. Not held before: ssh-keygen may have asked for a passphrase.
    let held = Book::beside(job).map(|book| book.hold()).transpose();
    let held = held.map_err(|fault| unentered(*fault, "nothing was signed: mend the book, or try again"))?;
    folder::keep(job, &name, &bytes).map_err(|fault| {
        let path = job.join(folder::FOLDER).join(&name);
        let message = format!("the signature can't be kept as `{}`: {fault}", path.display());
        let taken = fault.kind() == io::ErrorKind::AlreadyExists;
        let help = if taken { "if that one does not hold, take it away first" } else { "make the folder writable" };
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

/// Whether this key can sign at all: better known before the work begins. Under another namespace, so that it is good for nothing.
pub fn probe(key: &Path) -> Result<Key, Unsigned> {
    let armour = by_program(key, "probe@standpipe", b"")?;
    Signature::read(&armour).map(|signature| signature.key).map_err(|why| untaken(&why))
}

fn untaken(why: &str) -> Unsigned {
    Unsigned {
        message: format!("what ssh-keygen made by this key is not taken: {why}"),
        help: "take a key that was made by `ssh-keygen -t ed25519`",
    }
}

fn by_program(key: &Path, namespace: &str, message: &[u8]) -> Result<String, Unsigned> {
    let failed = |why: String| Unsigned {
        message: format!("ssh-keygen did not sign by `{}`: {why}", key.display()),
        help: "name the file of a private key, or of a public one whose private half an agent holds",
    };
    let mut command = Command::new("ssh-keygen");
    command.args(["-Y", "sign", "-n", namespace, "-f"]).arg(key);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|fault| Unsigned {
        message: format!("the program ssh-keygen can't be started: {fault}"),
        help: "install OpenSSH (Debian: openssh-client)",
    })?;
    // It may end before it has read all; what it says then tells more than the broken pipe.
    let written = child.stdin.take().map_or(Ok(()), |mut input| input.write_all(message));
    let output = child.wait_with_output().map_err(|fault| failed(fault.to_string()))?;
    if !output.status.success() || written.is_err() {
        let said = String::from_utf8_lossy(&output.stderr);
        let mut lines =
            said.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with("Signing data"));
        return Err(failed(lines.next_back().unwrap_or("it says nothing").to_owned()));
    }
    String::from_utf8(output.stdout).map_err(|_| failed("what it wrote is no text".to_owned()))
}
