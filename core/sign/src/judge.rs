//! What the signatures beside a journal show of its acts.

use std::collections::HashMap;

use schemars::JsonSchema;
use serde::Serialize;

use standpipe_job::Moment;
use standpipe_library::Act;

use crate::NAMESPACE;
use crate::act::Deed;
use crate::entered::{Entered, InBook};
use crate::folder::{Beside, name_of, named};
use crate::signers::{Signers, Trust};
use crate::sshsig::Key;
use crate::statement::{Statement, read};

/// What is shown of who did something.
#[derive(Clone, Debug, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case", tag = "standing", content = "why")]
pub enum Standing {
    /// By a key that the list gives to that person at that time.
    Signed,
    /// It holds, and there was no list to tell whose key it is.
    Unchecked,
    /// The list has no key of that person.
    UnknownPerson,
    /// By a key that was not that person's at that time: why.
    OtherKey(String),
    /// By that person's key, at a time that can't have been: why.
    OtherTime(String),
    /// By that person's key, and entered in the book when it was that person's no longer: why.
    Outlived(String),
    /// The same, but it was entered late, or the book shows it no better: why.
    PerhapsOutlived(String),
    Unsigned,
    /// There is a file that is no signature of this act: why.
    Broken(String),
}

impl Standing {
    pub fn words(&self) -> &'static str {
        match self {
            Standing::Signed => "signed",
            Standing::Unchecked => "signed, unchecked",
            Standing::UnknownPerson => "signed, by nobody on the list",
            Standing::OtherKey(_) => "BY ANOTHER KEY",
            Standing::OtherTime(_) => "signed before it was done",
            Standing::Outlived(_) => "ENTERED AFTER ITS KEY ENDED",
            Standing::PerhapsOutlived(_) => "perhaps made after its key ended",
            Standing::Unsigned => "not signed",
            Standing::Broken(_) => "BROKEN",
        }
    }
}

/// An act, and what is shown of who did it.
#[derive(Clone, Debug, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Signed {
    /// Number of the event.
    pub line: u64,
    pub act: Act,
    pub by: String,
    #[serde(flatten)]
    pub standing: Standing,
    /// Of the key, as `ssh-keygen -l` shows it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key: Option<String>,
    /// When it was signed, by the clock of whoever signed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub signed_at: Option<Moment>,
    /// Its line in the book beside the jobs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_book: Option<InBook>,
}

impl Signed {
    /// When it was signed and when it was entered, if these are not the same time.
    pub fn apart(&self) -> Option<(Moment, Moment)> {
        let (signed, entered) = (self.signed_at?, self.in_book.as_ref()?.at);
        (entered.duration_since(signed).as_secs().abs() > APART).then_some((signed, entered))
    }
}

/// Clocks of two computers may differ by so much, and nobody is blamed for it.
const APART: i64 = 5 * 60;

/// Each act with what is shown of it, and the names of files that are for no act. `heads`: of the lines of the journal. `entered`:
/// nothing, where no book lies beside the job.
pub fn signed<'a>(
    job: &str,
    deeds: &[Deed],
    heads: &[String],
    beside: &'a [Beside],
    signers: Option<&Signers>,
    entered: &Entered,
) -> (Vec<Signed>, Vec<&'a Beside>) {
    let mut files: HashMap<&str, &Beside> = beside.iter().map(|file| (file.name.as_str(), file)).collect();
    let mut all: Vec<Signed> = Vec::new();
    // One line may keep an act twice, as a correction of two values does: one signature is for both.
    let mut seen: HashMap<String, &Beside> = HashMap::new();
    for deed in deeds {
        let head = heads.get((deed.line as usize).wrapping_sub(1)).map_or("", String::as_str);
        let name = name_of(head, deed.act);
        let file = files.remove(name.as_str()).or_else(|| seen.get(&name).copied());
        if let Some(file) = file {
            seen.insert(name.clone(), file);
        }
        let in_book = file.and(entered.get(&name));
        all.push(one(job, deed, head, file, signers, in_book));
    }
    let mut rest: Vec<&Beside> = files.into_values().collect();
    rest.sort_by(|one, other| one.name.cmp(&other.name));
    (all, rest)
}

fn one(
    job: &str,
    deed: &Deed,
    head: &str,
    file: Option<&Beside>,
    signers: Option<&Signers>,
    in_book: Option<&InBook>,
) -> Signed {
    let told = |standing| Signed {
        line: deed.line,
        act: deed.act,
        by: deed.by.clone(),
        standing,
        key: None,
        signed_at: None,
        in_book: in_book.cloned(),
    };
    let Some(file) = file else { return told(Standing::Unsigned) };
    let bytes = match &file.bytes {
        Ok(bytes) => bytes,
        Err(fault) => return told(Standing::Broken(fault.to_string())),
    };
    let (said, at, signature) = match read(bytes) {
        Ok(read) => read,
        Err(why) => return told(Standing::Broken(why)),
    };
    let wanted = Statement { job, deed, head, at }.text();
    if said != wanted {
        return told(Standing::Broken(other(said, &wanted)));
    }
    if signature.namespace != NAMESPACE {
        let why = format!("it was made for another purpose, `{}`", signature.namespace);
        return told(Standing::Broken(why));
    }
    if !signature.holds(said.as_bytes(), NAMESPACE) {
        return told(Standing::Broken("it does not sign what it says".to_owned()));
    }
    let standing = match signers {
        None => Standing::Unchecked,
        Some(signers) => standing(signers, deed, signature.key, at, in_book),
    };
    Signed { key: Some(signature.key.to_string()), signed_at: Some(at), ..told(standing) }
}

fn standing(signers: &Signers, deed: &Deed, key: Key, at: Moment, in_book: Option<&InBook>) -> Standing {
    match signers.judge(&deed.by, key, at) {
        Trust::NoKey => Standing::UnknownPerson,
        Trust::Other => Standing::OtherKey(format!("it is none of {}", deed.by)),
        Trust::NotThen(why) => Standing::OtherKey(format!("the key of {} was not: {why}", deed.by)),
        Trust::Valid if deed.at.duration_since(at).as_secs() > APART => {
            Standing::OtherTime(format!("signed at {at}, and not entered before {}: the clocks disagree", deed.at))
        }
        Trust::Valid => in_book.and_then(|book| outlived(signers, deed, key, at, book)).unwrap_or(Standing::Signed),
    }
}

/// A key that ended between the time in a signature and that in the book. None where it still counted, or the times are one.
fn outlived(signers: &Signers, deed: &Deed, key: Key, at: Moment, book: &InBook) -> Option<Standing> {
    let after = &book.after;
    let Trust::NotThen(why) = signers.judge(&deed.by, key, after.at) else { return None };
    if after.at.duration_since(at).as_secs() <= APART {
        return None;
    }
    let of = if after.stamped { "the stamp of line" } else { "line" };
    let late = if book.late { "late, " } else { "" };
    let why = format!(
        "signed at {at} by its own word, and entered {late}not before {} by {of} {} of the book: the key of {} was {why}",
        after.at, after.line, deed.by
    );
    Some(if book.is_doubtful() { Standing::PerhapsOutlived(why) } else { Standing::Outlived(why) })
}

/// The first line in which a statement is another.
fn other(said: &str, wanted: &str) -> String {
    let differs = said.lines().zip(wanted.lines()).find(|(said, wanted)| said != wanted);
    match differs {
        Some((said, wanted)) => format!("it is for something else: `{said}`, not `{wanted}`"),
        None => "it is for something else".to_owned(),
    }
}

/// A signature that holds, of a line that the journal does not have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stray {
    pub line: String,
    pub by: String,
    pub key: Key,
    pub at: Moment,
}

impl Beside {
    /// Of a file that is for no act here. None where it is no signature that holds: anybody can put such a file there.
    pub fn stray(&self) -> Option<Stray> {
        let (said, at, signature) = read(self.bytes.as_ref().ok()?).ok()?;
        let (head, _) = named(&self.name)?;
        let part = |start: &str| said.lines().find_map(|line| line.strip_prefix(start));
        let holds = part("hash: ") == Some(head) && signature.holds(said.as_bytes(), NAMESPACE);
        let (line, by) = (part("line: ")?.to_owned(), serde_json::from_str(part("by: ")?).ok()?);
        holds.then_some(Stray { line, by, key: signature.key, at })
    }
}
