//! What is signed: a short text that fits one act of one job and nothing else.

use standpipe_job::Moment;

use crate::act::Deed;
use crate::sshsig::{BEGIN, Signature};

/// An act as it is signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Statement<'a> {
    pub job: &'a str,
    pub deed: &'a Deed,
    /// SHA-256 of the line.
    pub head: &'a str,
    /// When it was signed, by the clock of whoever signed.
    pub at: Moment,
}

impl Statement<'_> {
    /// Texts stand in it as in JSON, so that none can look like a line of its own.
    pub fn text(&self) -> String {
        let Deed { line, act, by, .. } = self.deed;
        let quoted = |text: &str| serde_json::Value::from(text).to_string();
        format!(
            "standpipe act 1\njob: {}\nline: {line}\nhash: {}\nact: {}\nby: {}\nat: {}\n",
            quoted(self.job),
            self.head,
            act.word(),
            quoted(by),
            self.at
        )
    }
}

/// A file of a signature: what it says, when it says that it was signed, and the signature.
///
/// Errors: what is wrong with its form.
pub fn read(bytes: &[u8]) -> Result<(&str, Moment, Signature), String> {
    let text = std::str::from_utf8(bytes).map_err(|_| "it is not text".to_owned())?;
    let (said, armour) = text.find(BEGIN).map(|at| text.split_at(at)).ok_or("it has no signature")?;
    let last = said.lines().last().and_then(|line| line.strip_prefix("at: ")).ok_or("it does not say when")?;
    let at: Moment = last.parse().map_err(|_| "it does not say when".to_owned())?;
    Ok((said, at, Signature::read(armour)?))
}
