//! Time stamps of the book beside jobs: until when somebody else vouches for it.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_book::stamp::{Kept, Stamp};
use standpipe_book::{Book, Line};
use standpipe_pack::is_pack;

use super::journal::Audited;
use super::point::{At, Point, Verdict};

/// The last line of a book that somebody else vouches for, with all before it.
#[derive(Clone, Debug, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Anchored {
    pub line: u64,
    /// How many lines the book has.
    pub of: u64,
    /// When it was there at the latest, as the authority says, in UTC.
    pub at: String,
    /// The signature of the authority was checked.
    pub checked: bool,
}

/// What stamps beside the books of these folders say. Nothing where there are none.
///
/// `authority`: certificates that are trusted, in PEM; the signatures are looked at by OpenSSL.
pub fn stamped(folders: &[PathBuf], authority: Option<&Path>) -> Vec<Audited> {
    folders.iter().filter(|folder| !is_pack(folder)).filter_map(|folder| of(folder, authority)).collect()
}

fn of(folder: &Path, authority: Option<&Path>) -> Option<Audited> {
    let book = Book::of(folder)?;
    let mut audited = Audited::new(folder);
    audited.state = "stamped";
    let file = book.path().display().to_string();
    let mut point = Point::new("stamps", &file);
    match (book.stamps(), book.read()) {
        (Ok(stamps), Ok(lines)) => {
            if stamps.is_empty() && authority.is_none() {
                return None;
            }
            point.looked_at = stamps.len() as u64;
            if stamps.is_empty() {
                point.find(Verdict::NotShown, None, "there is no stamp beside the book");
            }
            audited.anchored = anchored(&mut point, &stamps, &lines, authority);
        }
        (Err(fault), _) => point.find(Verdict::NotShown, None, format!("the stamps can't be read: {fault}")),
        // Said where the book is looked at.
        (_, Err(_)) => return None,
    }
    audited.points.push(point);
    Some(audited.settle())
}

fn anchored(point: &mut Point, stamps: &[Kept], lines: &[Line], authority: Option<&Path>) -> Option<Anchored> {
    let mut best: Option<(Anchored, &Path, &Stamp)> = None;
    for Kept { path, stamp } in stamps {
        let here = At { file: path.display().to_string(), line: None };
        let stamp = match stamp {
            Ok(stamp) => stamp,
            Err(why) => {
                point.find_in(Verdict::NotShown, here, format!("this is not a stamp: {why}"));
                continue;
            }
        };
        let Some(line) = lines.iter().find(|line| line.hash == stamp.hash) else {
            let message =
                format!("stamped at {}, and no line has that hash: this is not the book of that day", stamp.at);
            point.find_in(Verdict::DoesNotHold, here, message);
            continue;
        };
        let checked = match authority.map(|authority| verify(path, stamp, authority)) {
            Some(Err((verdict, why))) => {
                point.find_in(verdict, here, why);
                continue;
            }
            Some(Ok(())) => true,
            None => false,
        };
        let anchored = Anchored { line: line.seq, of: lines.len() as u64, at: stamp.at.clone(), checked };
        if best.as_ref().is_none_or(|(before, _, _)| before.line < anchored.line) {
            best = Some((anchored, path, stamp));
        }
    }
    let (anchored, path, stamp) = best?;
    if !anchored.checked {
        let message = format!(
            "up to line {} by a stamp of {}, if it is of an authority you trust: name its certificate by `--authority`, or `openssl ts \
             -verify -digest {} -in {} -CAfile FILE`",
            anchored.line,
            anchored.at,
            stamp.hash,
            path.display()
        );
        point.find(Verdict::NotShown, Some(anchored.line), message);
    }
    Some(anchored)
}

/// Certificates are held to the time of the stamp: they end long before what they vouch for.
fn verify(path: &Path, stamp: &Stamp, authority: &Path) -> Result<(), (Verdict, String)> {
    let at =
        stamp.at.parse::<jiff::Timestamp>().map_err(|_| (Verdict::NotShown, "its time can't be read".to_owned()))?;
    let mut command = Command::new("openssl");
    command.args(["ts", "-verify", "-digest", &stamp.hash, "-in"]).arg(path).arg("-CAfile").arg(authority);
    command.args(["-attime", &at.as_second().to_string()]).stdin(Stdio::null());
    let output = command.output().map_err(|fault| {
        (Verdict::NotShown, format!("nobody checked who stamped it: the program openssl can't be started: {fault}"))
    })?;
    if output.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&output.stderr);
    // The reason stands behind the last colon but one of a line with its number.
    let why = said.lines().find(|line| line.contains(":error:")).or(said.lines().next()).unwrap_or("it says nothing");
    Err((Verdict::DoesNotHold, format!("it is not stamped by that authority: openssl says `{}`", why.trim())))
}
