//! Opening to read.

use std::fs::{File, OpenOptions};
use std::io::{self, Read};
use std::path::Path;

use crate::flags::{no_link, ordinary, special, without_waiting};

/// An ordinary file. Errors: none there, or a pipe, a device or a folder; never waits.
pub fn open(path: &Path) -> io::Result<File> {
    ordinary(without_waiting(OpenOptions::new().read(true), true).open(path)?)
}

/// An ordinary file that lies in this folder itself, by a name that may have one folder in it: nothing behind a link, which
/// could hand out what lies anywhere.
pub fn own(folder: &Path, name: &str) -> io::Result<File> {
    if let Some((inner, _)) = name.split_once('/') {
        no_link(&folder.join(inner))?;
    }
    let path = folder.join(name);
    if path.symlink_metadata()?.is_symlink() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is a link"));
    }
    ordinary(without_waiting(OpenOptions::new().read(true), false).open(path)?)
}

/// All of an ordinary file of at most so many bytes. Errors: those of [`open`], and a file that is or grows larger.
pub fn bytes(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let file = open(path)?;
    let length = file.metadata()?.len();
    let large = || io::Error::new(io::ErrorKind::FileTooLarge, format!("it has more than {most} bytes"));
    if length > most {
        return Err(large());
    }
    let mut bytes = Vec::with_capacity(length as usize);
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(large()) } else { Ok(bytes) }
}

/// As [`bytes`], for text in UTF-8.
pub fn text(path: &Path, most: u64) -> io::Result<String> {
    String::from_utf8(bytes(path, most)?).map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "it is not UTF-8"))
}

/// Gives what there is to read to `take`, piece by piece, until it ends. `unread` makes a fault of the reading one of `take`'s.
pub fn pieces<E>(
    mut input: impl Read,
    unread: impl FnOnce(io::Error) -> E,
    mut take: impl FnMut(&[u8]) -> Result<(), E>,
) -> Result<(), E> {
    let mut buffer = vec![0; 64 << 10];
    loop {
        match input.read(&mut buffer) {
            Ok(0) => return Ok(()),
            Ok(got) => take(&buffer[..got])?,
            Err(fault) if fault.kind() == io::ErrorKind::Interrupted => {}
            Err(fault) => return Err(unread(fault)),
        }
    }
}

/// A folder, to make sure that the names in it are on the disk.
pub fn whole_folder(path: &Path) -> io::Result<File> {
    File::open(path)
}

/// What is read bit by bit and may never end: a file, a pipe, or a device that somebody named himself (a serial line, a
/// terminal). Whoever reads it has to bound what is kept of it.
pub fn stream(path: &Path) -> io::Result<File> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, special().to_string()));
    }
    Ok(file)
}
/// Whether somebody else on this computer may read a file: as they may on a disk that keeps no permissions. Never known to be
/// so where the system has other ways to say who may.
#[cfg(unix)]
pub fn others_may_read(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    path.metadata().is_ok_and(|found| found.permissions().mode() & 0o004 != 0)
}

#[cfg(not(unix))]
pub fn others_may_read(_path: &Path) -> bool {
    false
}
