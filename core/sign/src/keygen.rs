//! Signing by OpenSSH: the private key stays with it, or with an agent, and is never seen here.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use standpipe_job::Moment;

use crate::NAMESPACE;
use crate::kept::{Unsigned, kept, untaken};
use crate::sshsig::{Key, Signature};
use crate::statement::Statement;

/// Signs an act by the key in a file, or by the agent that holds the key of which this is the public half, and keeps the signature.
/// `entered_at`: what the clock says. Returns when all of it is on the disk.
pub fn sign(job: &Path, statement: &Statement<'_>, key: &Path, entered_at: Moment) -> Result<Signature, Unsigned> {
    let armour = by_program(key, NAMESPACE, statement.text().as_bytes())?;
    // Not held before: ssh-keygen may have asked for a passphrase.
    kept(job, statement, &armour, entered_at)
}

/// Whether this key can sign at all: better known before the work begins. Under another namespace, so that it is good for nothing.
pub fn probe(key: &Path) -> Result<Key, Unsigned> {
    let armour = by_program(key, "probe@standpipe", b"")?;
    Signature::read(&armour).map(|signature| signature.key).map_err(|why| untaken(&why))
}

fn by_program(key: &Path, namespace: &str, message: &[u8]) -> Result<String, Unsigned> {
    let failed = |why: String| Unsigned {
        message: format!("ssh-keygen did not sign with `{}`: {why}", key.display()),
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
    String::from_utf8(output.stdout).map_err(|_| failed("what it wrote is not text".to_owned()))
}
