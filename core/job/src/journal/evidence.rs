//! Photos and other files that belong to a record, kept under their hash.

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Component, Path, PathBuf};

use sha2::{Digest, Sha256};

use super::{LeftOut, folder};
use crate::event::{Event, EvidenceRef, Record};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// Largest file that is kept: a long video of a leak, not a disk image.
pub const LARGEST: u64 = 256 << 20;

/// Copies a file into the journal's folder and syncs it; only then may an event name it. `place`: where it was asked for.
pub fn keep(dir: &Path, file: &Path, place: &Place) -> Result<EvidenceRef, Box<Diagnostic>> {
    keep_up_to(LARGEST, dir, file, place)
}

fn keep_up_to(largest: u64, dir: &Path, file: &Path, place: &Place) -> Result<EvidenceRef, Box<Diagnostic>> {
    let shown = file.display();
    let unread = |what: String| {
        let problem =
            Diagnostic::error(Code::UnreadableFile, place, format!("`{shown}` can't be kept as evidence: {what}"))
                .expected("a file that is there, such as a photo");
        Box::new(problem.help("check the path; in an answers file it counts from the folder of that file"))
    };
    let input = standpipe_disk::open(file).map_err(|fault| unread(fault.to_string()))?;
    let meta = input.metadata().map_err(|fault| unread(fault.to_string()))?;
    if meta.len() == 0 {
        return Err(unread("it is empty".to_owned()));
    }
    let too_large = |length: u64| {
        let problem =
            Diagnostic::error(Code::NotText, place, format!("`{shown}` is too large to be kept: {length} bytes"))
                .expected(format!("at most {} MiB", largest >> 20));
        Box::new(problem.help("attach a smaller picture, or a note that says where the file is kept"))
    };
    if meta.len() > largest {
        return Err(too_large(meta.len()));
    }
    let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    put(input.take(largest + 1), dir, name, |length| (length > largest).then(|| too_large(length)), unread)
}

/// Keeps bytes that came from somewhere else than a file.
pub fn keep_bytes(dir: &Path, name: &str, bytes: &[u8], place: &Place) -> Result<EvidenceRef, Box<Diagnostic>> {
    let unread = |what: String| {
        let problem =
            Diagnostic::error(Code::UnreadableFile, place, format!("`{name}` can't be kept as evidence: {what}"));
        Box::new(problem.help("try again"))
    };
    put(bytes, dir, name.to_owned(), |_| None, unread)
}

/// Keeps a text that lies in no file of its own, such as one that is part of the program.
pub fn keep_text(dir: &Path, name: &str, text: &str, place: &Place) -> Result<EvidenceRef, Box<Diagnostic>> {
    keep_bytes(dir, name, text.as_bytes(), place)
}

fn put(
    input: impl Read,
    dir: &Path,
    name: String,
    refused: impl Fn(u64) -> Option<Box<Diagnostic>>,
    unread: impl Fn(String) -> Box<Diagnostic>,
) -> Result<EvidenceRef, Box<Diagnostic>> {
    let folder = dir.join("evidence");
    standpipe_disk::folder(&folder).map_err(|fault| folder::unwritten(&folder, &fault))?;
    let part = folder.join("part");
    let copied = copy(input, &part).map_err(|fault| match fault {
        Half::Read(fault) => unread(fault.to_string()),
        Half::Write(fault) => folder::unwritten(&part, &fault),
    });
    let copied = copied.and_then(|(sha256, length)| match refused(length) {
        Some(problem) => Err(problem),
        None => Ok(sha256),
    });
    let sha256 = copied.inspect_err(|_| drop(fs::remove_file(&part)))?;
    let kept = folder.join(&sha256);
    // Replaces a copy of the same bytes, or one that was damaged since.
    fs::rename(&part, &kept)
        .and_then(|()| standpipe_disk::sync(&folder))
        .and_then(|()| standpipe_disk::sync(dir))
        .map_err(|fault| folder::unwritten(&kept, &fault))?;
    Ok(EvidenceRef { sha256, name, of: None })
}

enum Half {
    Read(io::Error),
    Write(io::Error),
}

fn copy(input: impl Read, path: &Path) -> Result<(String, u64), Half> {
    let mut output = standpipe_disk::replace(path).map_err(Half::Write)?;
    let (mut sum, mut length) = (Sha256::new(), 0);
    standpipe_disk::pieces(input, Half::Read, |piece| {
        sum.update(piece);
        length += piece.len() as u64;
        output.write_all(piece).map_err(Half::Write)
    })?;
    output.sync_all().map_err(Half::Write)?;
    Ok((format!("{:x}", sum.finalize()), length))
}

/// Folder of what readers sent, in that of a job.
pub const STREAMS: &str = "stream";

/// Where a piece of evidence lies; `None` for a hash that is none, or for a stream with a way in its name: either could name
/// any file.
pub fn path_of(dir: &Path, evidence: &EvidenceRef) -> Option<PathBuf> {
    Some(dir.join(name_of(evidence)?))
}

/// The same within the folder, with `/` between.
pub(super) fn name_of(evidence: &EvidenceRef) -> Option<String> {
    let sound = evidence.sha256.len() == 64 && evidence.sha256.bytes().all(|byte| byte.is_ascii_hexdigit());
    match &evidence.of {
        _ if !sound => None,
        None => Some(format!("evidence/{}", evidence.sha256)),
        Some(part) => {
            let mut parts = Path::new(&part.file).components();
            let plain = matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None));
            (plain && !part.file.contains(['/', '\\'])).then(|| format!("{STREAMS}/{}", part.file))
        }
    }
}

/// Its bytes: of a stream those that had come by then.
pub fn open(dir: &Path, evidence: &EvidenceRef) -> Result<impl Read + use<>, String> {
    let path = path_of(dir, evidence).ok_or("its name is not a hash")?;
    let file = standpipe_disk::open(&path).map_err(|fault| match LeftOut::of(dir) {
        left_out if left_out.has(dir, evidence) => format!("it was left out of this copy, made for: {}", left_out.whom),
        _ => format!("{}: {fault}", path.display()),
    })?;
    Ok(file.take(evidence.of.as_ref().map_or(u64::MAX, |part| part.bytes)))
}

/// All evidence that the events name.
pub fn named(records: &[Record]) -> impl Iterator<Item = (u64, &EvidenceRef)> {
    records.iter().flat_map(|record| {
        let all = match &record.event {
            Event::Entered { evidence, .. } => evidence.as_slice(),
            Event::Attached { evidence, .. } => std::slice::from_ref(evidence),
            Event::LogKept(kept) => std::slice::from_ref(&kept.evidence),
            _ => &[],
        };
        let rows = match &record.event {
            Event::Entered { read: Some(read), .. } => Some(&read.rows),
            Event::LogKept(kept) => kept.description.as_ref(),
            _ => None,
        };
        all.iter().chain(rows).map(|evidence| (record.seq, evidence))
    })
}

/// Is all evidence that the events name still there, byte for byte?
pub fn verify(dir: &Path, records: &[Record]) -> Problems {
    let mut problems = Problems::new();
    for (seq, evidence) in named(records) {
        let Err(fault) = holds(dir, evidence) else { continue };
        let message = format!("the evidence `{}` of event {seq} does not hold: {fault}", evidence.name);
        problems.push(
            Diagnostic::error(Code::BrokenJournal, &folder::place_of(&dir.join("evidence")), message)
                .help("put the file back from a copy of the journal's folder"),
        );
    }
    problems
}

/// Bytes of evidence that are summed while they are read: what is used and what is checked are the same bytes.
pub struct Proving<R> {
    input: R,
    sum: Sha256,
    length: u64,
}

impl<R: Read> Read for Proving<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.input.read(buffer)?;
        self.sum.update(&buffer[..got]);
        self.length += got as u64;
        Ok(got)
    }
}

impl<R: Read> Proving<R> {
    /// Reads what is left; says what is wrong with the whole.
    pub fn holds(mut self, evidence: &EvidenceRef) -> Result<(), String> {
        io::copy(&mut self, &mut io::sink()).map_err(|fault| fault.to_string())?;
        let found = format!("{:x}", self.sum.finalize());
        match &evidence.of {
            _ if found == evidence.sha256 => Ok(()),
            Some(part) if self.length < part.bytes => {
                Err(format!("it was cut off: {} bytes are there, {} were", self.length, part.bytes))
            }
            _ => Err(format!("it was changed: found {found}, expected {}", evidence.sha256)),
        }
    }
}

/// As [`open`], to be asked in the end whether it holds.
pub fn proving(dir: &Path, evidence: &EvidenceRef) -> Result<Proving<impl Read + use<>>, String> {
    Ok(Proving { input: open(dir, evidence)?, sum: Sha256::new(), length: 0 })
}

/// Is one piece of evidence still there, byte for byte? Says what is wrong with it.
pub fn holds(dir: &Path, evidence: &EvidenceRef) -> Result<(), String> {
    proving(dir, evidence)?.holds(evidence)
}

#[cfg(test)]
mod tests;
