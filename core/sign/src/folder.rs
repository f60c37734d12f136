//! Where signatures lie: in a folder beside the journal, each in a file that is named by the line and the act that it is for.

use std::fs;
use std::io;
use std::path::Path;

use standpipe_library::Act;

pub const FOLDER: &str = "signatures";
/// One has some 700 bytes; the id of a job and of a person may be long.
pub const LARGEST: u64 = 16 << 10;
/// A job of years has some hundreds.
const MOST: usize = 10_000;

/// What a signature of this act is called in its folder. `head`: the hash of the line that keeps the act.
pub fn name_of(head: &str, act: Act) -> String {
    format!("{head}-{}", act.word())
}

/// Whether a file of this name can be a signature.
pub fn is_name(name: &str) -> bool {
    named(name).is_some()
}

/// The line and the act that a name is for.
pub fn named(name: &str) -> Option<(&str, Act)> {
    let (head, word) = name.split_at_checked(64)?;
    let hex = head.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
    Some((head, Act::of(word.strip_prefix('-')?)?)).filter(|_| hex)
}

/// A file that lies among the signatures of a job.
#[derive(Debug)]
pub struct Beside {
    pub name: String,
    pub bytes: io::Result<Vec<u8>>,
}

/// All files there, in the order of their names, but for what a write that was interrupted left.
pub fn all_beside(job: &Path) -> io::Result<Vec<Beside>> {
    let folder = job.join(FOLDER);
    let entries = match fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(fault) if fault.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(fault) => return Err(fault),
    };
    let mut names = Vec::new();
    for entry in entries {
        let name = entry?.file_name().to_string_lossy().into_owned();
        if !name.ends_with(".part") {
            names.push(name);
        }
        if names.len() > MOST {
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, format!("it has more than {MOST} files")));
        }
    }
    names.sort();
    let read = |name: String| Beside { bytes: own(job, &name), name };
    Ok(names.into_iter().map(read).collect())
}

/// Nothing behind a link, and nothing that is larger than a signature.
fn own(job: &Path, name: &str) -> io::Result<Vec<u8>> {
    use io::Read;
    let file = standpipe_disk::own(job, &format!("{FOLDER}/{name}"))?;
    let mut bytes = Vec::new();
    file.take(LARGEST + 1).read_to_end(&mut bytes)?;
    match bytes.len() as u64 > LARGEST {
        true => Err(io::Error::new(io::ErrorKind::FileTooLarge, format!("it has more than {LARGEST} bytes"))),
        false => Ok(bytes),
    }
}

/// Keeps a signature. Errors: there is one, or the disk.
pub fn keep(job: &Path, name: &str, bytes: &[u8]) -> io::Result<()> {
    let folder = job.join(FOLDER);
    standpipe_disk::folder(&folder)?;
    standpipe_disk::sync(job)?;
    standpipe_disk::fresh(&folder.join(name), |file| io::Write::write_all(file, bytes))
}
