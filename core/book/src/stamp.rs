//! A time stamp of the book, by RFC 3161: somebody else, who has nothing of the book but the hash of a line, says that it was there.
//!
//! Request and answer go to the authority and come back by whatever way people choose. Only their form is looked at here: whether an
//! authority signed an answer, `openssl ts -verify` says.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::Book;
use crate::der::{Der, FIRST, INTEGER, OBJECT, OCTETS, SEQUENCE, SET, TIME, element};

/// The folder of stamps, beside the book.
pub const FOLDER: &str = "book-stamps";
/// Some ten thousand bytes, with the certificates of an authority in it.
const LARGEST: u64 = 1 << 20;
const MOST: usize = 10_000;

/// 2.16.840.1.101.3.4.2.1 (FIPS 180-4, registered by NIST)
const SHA_256: &[u8] = &[0x60, 0x86, 0x48, 0x01, 0x65, 0x03, 0x04, 0x02, 0x01];
/// 1.2.840.113549.1.7.2 (RFC 5652, 5.1)
const SIGNED_DATA: &[u8] = &[0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x07, 0x02];
/// 1.2.840.113549.1.9.16.1.4 (RFC 3161, 2.4.2)
const TST_INFO: &[u8] = &[0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x09, 0x10, 0x01, 0x04];

/// What an answer says, if an authority signed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The hash that it is of: that of a line of the book.
    pub hash: String,
    /// When it was there, in UTC: `2026-11-29T16:10:00Z`.
    pub at: String,
}

/// A file that lies among the stamps.
#[derive(Debug)]
pub struct Kept {
    pub path: PathBuf,
    /// Or why it is none.
    pub stamp: Result<Stamp, String>,
}

/// The request for a stamp of a line, which the authority is asked to answer with its certificate. None where it is no hash.
pub fn request(hash: &str) -> Option<Vec<u8>> {
    let bytes: Vec<u8> =
        (0..32).map(|at| u8::from_str_radix(hash.get(2 * at..2 * at + 2)?, 16).ok()).collect::<Option<_>>()?;
    let sha_256 = [element(OBJECT, SHA_256), vec![0x05, 0]].concat();
    let imprint = [element(SEQUENCE, &sha_256), element(OCTETS, &bytes)].concat();
    let version = element(INTEGER, &[1]);
    let with_certificate = element(0x01, &[0xff]);
    Some(element(SEQUENCE, &[version, element(SEQUENCE, &imprint), with_certificate].concat()))
}

impl Stamp {
    /// Reads an answer. Errors: why there is no stamp in it.
    pub fn read(bytes: &[u8]) -> Result<Self, String> {
        let form = || "it is not an answer to a request for a time stamp, or not in DER".to_owned();
        let mut answer = Der(bytes).enter(SEQUENCE).ok_or_else(form)?;
        let mut status = answer.enter(SEQUENCE).ok_or_else(form)?;
        match status.take(INTEGER).ok_or_else(form)? {
            // Granted, or granted with changes.
            [0 | 1] => {}
            _ => return Err("the authority refused it".to_owned()),
        }
        Self::of_token(answer).ok_or_else(form)?
    }

    fn of_token(mut answer: Der<'_>) -> Option<Result<Self, String>> {
        let mut token = answer.enter(SEQUENCE)?;
        let mut signed = (token.take(OBJECT)? == SIGNED_DATA).then(|| token.enter(FIRST)?.enter(SEQUENCE))??;
        signed.take(INTEGER)?;
        signed.take(SET)?;
        let mut content = signed.enter(SEQUENCE)?;
        let info = (content.take(OBJECT)? == TST_INFO).then(|| content.enter(FIRST)?.take(OCTETS))??;
        let mut info = Der(info).enter(SEQUENCE)?;
        info.take(INTEGER)?;
        info.take(OBJECT)?;
        let mut imprint = info.enter(SEQUENCE)?;
        let by = imprint.enter(SEQUENCE)?.take(OBJECT)?;
        let hash = imprint.take(OCTETS)?;
        info.take(INTEGER)?;
        let at = time(info.take(TIME)?)?;
        if by != SHA_256 {
            return Some(Err("it is of a hash of another kind than SHA-256".to_owned()));
        }
        Some(Ok(Self { hash: hash.iter().map(|byte| format!("{byte:02x}")).collect(), at }))
    }
}

/// `20261129161000Z`, with parts of a second perhaps, which are left out: they only make it later than it says.
fn time(bytes: &[u8]) -> Option<String> {
    let text = std::str::from_utf8(bytes).ok()?.strip_suffix('Z')?;
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.len() != 14 || part.is_empty() || !digits(whole) || !digits(part) {
        return None;
    }
    let (date, clock) = whole.split_at(8);
    Some(format!("{}-{}-{}T{}:{}:{}Z", &date[..4], &date[4..6], &date[6..], &clock[..2], &clock[2..4], &clock[4..]))
}

impl Book {
    fn stamps_folder(&self) -> PathBuf {
        self.path().with_file_name(FOLDER)
    }

    /// All stamps beside the book, in the order of their names.
    pub fn stamps(&self) -> io::Result<Vec<Kept>> {
        let entries = match fs::read_dir(self.stamps_folder()) {
            Ok(entries) => entries,
            Err(fault) if fault.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(fault) => return Err(fault),
        };
        let mut paths: Vec<PathBuf> = Vec::new();
        for entry in entries {
            let path = entry?.path();
            if path.extension().is_none_or(|ending| ending != "part") {
                paths.push(path);
            }
            if paths.len() > MOST {
                return Err(io::Error::new(io::ErrorKind::FileTooLarge, format!("there are more than {MOST} stamps")));
            }
        }
        paths.sort();
        Ok(paths.into_iter().map(|path| Kept { stamp: read(&path), path }).collect())
    }

    /// Keeps an answer, by the hash that it is of. Errors: there is one, or the disk.
    pub fn keep_stamp(&self, stamp: &Stamp, answer: &Path) -> io::Result<PathBuf> {
        let bytes = standpipe_disk::bytes(answer, LARGEST)?;
        let folder = self.stamps_folder();
        standpipe_disk::folder(&folder)?;
        let path = folder.join(format!("{}.tsr", stamp.hash));
        standpipe_disk::fresh(&path, |file| io::Write::write_all(file, &bytes))?;
        Ok(path)
    }
}

/// An answer in a file.
pub fn read(path: &Path) -> Result<Stamp, String> {
    let bytes = standpipe_disk::bytes(path, LARGEST).map_err(|fault| fault.to_string())?;
    Stamp::read(&bytes)
}
