//! How files are opened, where the system lets us say so.

use std::fs::{File, OpenOptions};
use std::io;
use std::path::Path;

/// Opening a pipe without this would wait for whoever is at its other end.
#[cfg(unix)]
pub(crate) fn without_waiting(options: &mut OpenOptions, follow: bool) -> &mut OpenOptions {
    use std::os::unix::fs::OpenOptionsExt;
    options.custom_flags(libc::O_NONBLOCK | if follow { 0 } else { libc::O_NOFOLLOW })
}

#[cfg(not(unix))]
pub(crate) fn without_waiting(options: &mut OpenOptions, _follow: bool) -> &mut OpenOptions {
    options
}

#[cfg(unix)]
pub(crate) fn owner_only(options: &mut OpenOptions) -> &mut OpenOptions {
    use std::os::unix::fs::OpenOptionsExt;
    options.mode(0o600)
}

#[cfg(not(unix))]
pub(crate) fn owner_only(options: &mut OpenOptions) -> &mut OpenOptions {
    options
}

/// What was opened, if it is a file and nothing else.
pub(crate) fn ordinary(file: File) -> io::Result<File> {
    if file.metadata()?.is_file() { Ok(file) } else { Err(special()) }
}

pub(crate) fn special() -> io::Error {
    io::Error::new(io::ErrorKind::InvalidInput, "it is not an ordinary file, but a folder, a pipe or a device")
}

/// For systems without a flag for it; elsewhere a second look costs nothing.
pub(crate) fn no_link(path: &Path) -> io::Result<()> {
    match std::fs::symlink_metadata(path) {
        Ok(found) if found.is_symlink() => Err(link()),
        _ => Ok(()),
    }
}

pub(crate) fn link() -> io::Error {
    io::Error::new(io::ErrorKind::InvalidInput, "it is a link, and what it leads to is not to be written")
}
