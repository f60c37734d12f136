//! Reading a pack that may come from anybody.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use standpipe_diagnostic::columns::clean;

use crate::crc::Crc;
use crate::form::{CENTRAL, END, Entry, LOCAL, end, u16_at, u32_at};
use crate::{ABOUT, EXTRACT, FORMAT, JOB, LARGEST, MOST_FILES, about, name};

/// A pack that was taken out into a folder of its own, which goes with this.
#[derive(Debug)]
pub struct Unpacked {
    folder: TempDir,
    /// In the folder of the job, by their names in it.
    pub files: Vec<String>,
    /// What the pack has of the book; not looked at.
    pub extract: Option<Vec<u8>>,
}

/// Why a pack can't be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    Newer,
    Broken(String),
    /// Not the fault of the file: there is no room to take it out, for instance.
    Disk(String),
}

impl Unpacked {
    /// The folder of the job.
    pub fn job(&self) -> PathBuf {
        self.folder.path().join(JOB.trim_end_matches('/'))
    }
}

/// Is this meant as a pack? By its name, whatever is in it.
pub fn is_pack(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("zip")) && !path.is_dir()
}

/// Takes a pack out. Only the form is looked at: whether the job holds is for an audit to say.
pub fn unpack(path: &Path) -> Result<Unpacked, Fault> {
    let mut file = standpipe_disk::open(path).map_err(|fault| Fault::Broken(fault.to_string()))?;
    let (entries, format) = entries(&mut file)?;
    let made = tempfile::Builder::new().prefix("standpipe-").tempdir();
    let folder = made.map_err(|fault| Fault::Disk(format!("no folder can be made to take it out: {fault}")))?;
    for inner in ["job/evidence", "job/signatures", "job/stream"] {
        fs::create_dir_all(folder.path().join(inner)).map_err(|fault| Fault::Disk(fault.to_string()))?;
    }
    let mut unpacked = Unpacked { folder, files: Vec::new(), extract: None };
    for entry in &entries {
        match entry.name.strip_prefix(JOB) {
            Some(inner) => {
                let to = unpacked.job().join(inner);
                let out = standpipe_disk::create(&to).map_err(|fault| Fault::Disk(fault.to_string()))?;
                take(&mut file, entry, out)?;
                unpacked.files.push(inner.to_owned());
            }
            None => {
                let mut bytes = Vec::new();
                take(&mut file, entry, &mut bytes)?;
                match entry.name == EXTRACT {
                    true => unpacked.extract = Some(bytes),
                    false if bytes != about(format).as_bytes() => {
                        return Err(broken(format!("`{ABOUT}` is not as it is written")));
                    }
                    false => {}
                }
            }
        }
    }
    Ok(unpacked)
}

/// What it lists, all of it in the one form, one behind the other and nothing between.
fn entries(file: &mut File) -> Result<(Vec<Entry>, u64), Fault> {
    let length = file.metadata().map_err(unread)?.len();
    if length > LARGEST {
        return Err(broken(format!("it has more than {LARGEST} bytes")));
    }
    let format = format(file)?;
    let cut = || broken("it does not end as a pack does: it was cut off, or something was added");
    let tail = length.checked_sub(END as u64).ok_or_else(cut)?;
    let last = part(file, tail, END)?;
    let (count, size, at) = (u16_at(&last, 8), u32_at(&last, 12), u32_at(&last, 16));
    if end(count, size, at) != last || u64::from(at) + u64::from(size) != tail {
        return Err(cut());
    }
    if usize::from(count) > MOST_FILES {
        return Err(broken(format!("it lists {count} files, and a pack has at most {MOST_FILES}")));
    }
    let list = part(file, u64::from(at), size as usize)?;
    let mut rest = list.as_slice();
    let mut entries: Vec<Entry> = Vec::new();
    let mut names = HashSet::new();
    for number in 1..=count {
        let next = entries.last().map_or(0, Entry::end);
        let entry = listed(rest, number)?;
        rest = &rest[CENTRAL + entry.name.len()..];
        let shown = clean(&entry.name);
        let Some(most) = name::most(&entry.name) else {
            return Err(broken(format!("it has `{shown}`, and no pack has a file of that name")));
        };
        if u64::from(entry.size) > most {
            return Err(broken(format!("`{shown}` has {} bytes, and at most {most} are taken", entry.size)));
        }
        if u64::from(entry.at) != next {
            return Err(broken(format!("`{shown}` does not begin where the file before it ends")));
        }
        // Systems that do not tell capitals apart would write one over the other.
        if !names.insert(entry.name.to_lowercase()) {
            return Err(broken(format!("`{shown}` is in it twice")));
        }
        let first = entries.is_empty();
        if first != (entry.name == ABOUT)
            || entries.len() > 1 && entries.last().is_some_and(|last| last.name > entry.name)
        {
            return Err(broken(format!("`{shown}` is not in its place: the files of a pack have one order")));
        }
        entries.push(entry);
    }
    if !rest.is_empty() || entries.last().map_or(0, Entry::end) != u64::from(at) {
        return Err(broken("it has bytes that belong to no file"));
    }
    Ok((entries, format))
}

/// One entry of the central directory.
fn listed(bytes: &[u8], number: u16) -> Result<Entry, Fault> {
    let form = || broken(format!("file {number} is not stored as a pack does it: by another program, or as a link"));
    let length = usize::from(u16_at(bytes, 28));
    let header = bytes.get(..CENTRAL + length).ok_or_else(form)?;
    let name = std::str::from_utf8(&header[CENTRAL..]).map_err(|_| form())?.to_owned();
    let entry = Entry { name, crc: u32_at(header, 16), size: u32_at(header, 24), at: u32_at(header, 42) };
    if entry.central() == header { Ok(entry) } else { Err(form()) }
}

/// Before anything else is held against the form of this version.
fn format(file: &mut File) -> Result<u64, Fault> {
    let mut head = Vec::new();
    file.rewind().and_then(|()| Read::take(&mut *file, 200).read_to_end(&mut head)).map_err(unread)?;
    let no_pack = || broken("it is not a pack: `standpipe pack` makes them");
    let rest = head.get(LOCAL..).and_then(|rest| rest.strip_prefix(ABOUT.as_bytes())).ok_or_else(no_pack)?;
    let about = rest.get(..u32_at(&head, 22) as usize).ok_or_else(no_pack)?;
    let about: serde_json::Value = serde_json::from_slice(about).map_err(|_| no_pack())?;
    match about["format"].as_u64() {
        Some(found @ 1..=FORMAT) => Ok(found),
        Some(found) if found > FORMAT => Err(Fault::Newer),
        _ => Err(no_pack()),
    }
}

/// Copies what an entry holds, which begins with the header that it must have.
fn take(file: &mut File, entry: &Entry, mut out: impl Write) -> Result<(), Fault> {
    let header = entry.local();
    let shown = clean(&entry.name);
    if part(file, u64::from(entry.at), header.len())? != header {
        return Err(broken(format!("`{shown}` is not what the list at the end of the pack says of it")));
    }
    let (mut crc, mut left) = (Crc::new(), entry.size as usize);
    let mut buffer = vec![0; left.min(64 << 10)];
    while left > 0 {
        let some = left.min(buffer.len());
        file.read_exact(&mut buffer[..some]).map_err(unread)?;
        crc.update(&buffer[..some]);
        out.write_all(&buffer[..some]).map_err(|fault| Fault::Disk(format!("it can't be taken out: {fault}")))?;
        left -= some;
    }
    if crc.sum() == entry.crc { Ok(()) } else { Err(broken(format!("`{shown}` was damaged: its checksum differs"))) }
}

fn part(file: &mut File, at: u64, length: usize) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vec::new();
    file.seek(SeekFrom::Start(at)).map_err(unread)?;
    Read::take(&mut *file, length as u64).read_to_end(&mut bytes).map_err(unread)?;
    if bytes.len() == length { Ok(bytes) } else { Err(broken("it was cut off")) }
}

fn broken(message: impl Into<String>) -> Fault {
    Fault::Broken(message.into())
}

fn unread(fault: io::Error) -> Fault {
    Fault::Broken(fault.to_string())
}
