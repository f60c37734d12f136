//! Opening to write: nothing behind a link, nothing that is no ordinary file.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::flags::{link, no_link, ordinary, owner_only, without_waiting};
use crate::whole_folder;

/// A file that is not there yet. A link of that name counts as something that is there.
pub fn create(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create_new(true).open(path)
}

/// As [`create`], which nobody else may read where the system knows that.
fn secret(path: &Path) -> io::Result<File> {
    owner_only(OpenOptions::new().write(true).create_new(true)).open(path)
}

/// A file to append to; made, if need be, where it may be `new`. Errors: also one that has a second name, by which it would
/// grow as well: a copy that somebody made with hard links, or a file that somebody else put here.
pub fn append(path: &Path, new: bool) -> io::Result<File> {
    no_link(path)?;
    let file = ordinary(without_waiting(OpenOptions::new().append(true).create(new), false).open(path).map_err(told)?)?;
    only_name(file)
}

/// A new file of that name, whatever lay there before: a link or another name of some file goes, not the file.
pub fn replace(path: &Path) -> io::Result<File> {
    instead(path, create)
}

fn instead(path: &Path, make: fn(&Path) -> io::Result<File>) -> io::Result<File> {
    match fs::remove_file(path) {
        Err(fault) if fault.kind() != io::ErrorKind::NotFound => Err(fault),
        _ => make(path),
    }
}

/// What a file is called while it is written.
fn part_of(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    path.with_file_name(name)
}

/// A file that is not there yet, written by `write` under another name first: all of it is there, or nothing, and what was there
/// stays. Errors: those of `write`; something of that name.
pub fn fresh<T>(path: &Path, write: impl FnOnce(&mut File) -> io::Result<T>) -> io::Result<T> {
    let there = || io::Error::from(io::ErrorKind::AlreadyExists);
    if path.symlink_metadata().is_ok() {
        return Err(there());
    }
    let part = part_of(path);
    let made = replace(&part).and_then(|mut file| {
        let made = write(&mut file)?;
        file.sync_all()?;
        Ok(made)
    });
    // A second name is given only where there is none; not every file system knows such.
    let named = made.and_then(|made| match fs::hard_link(&part, path) {
        Err(fault) if fault.kind() == io::ErrorKind::AlreadyExists => Err(there()),
        Err(_) if path.symlink_metadata().is_ok() => Err(there()),
        Err(_) => fs::rename(&part, path).map(|()| made),
        Ok(()) => Ok(made),
    });
    let _ = fs::remove_file(&part);
    let made = named?;
    sync(path.parent().unwrap_or(Path::new(".")))?;
    Ok(made)
}

/// Writes a file under another name first, so that a reader finds all of it or none.
pub fn whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    whole_made(path, bytes, create)
}

/// As [`whole`], which nobody else may read where the system knows that.
pub fn whole_secret(path: &Path, bytes: &[u8]) -> io::Result<()> {
    whole_made(path, bytes, secret)
}

fn whole_made(path: &Path, bytes: &[u8], make: fn(&Path) -> io::Result<File>) -> io::Result<()> {
    let part = part_of(path);
    let mut file = instead(&part, make)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&part, path)?;
    sync(path.parent().unwrap_or(Path::new(".")))
}

/// As [`whole`], over a file that is there and keeps who may do what with it. Errors: a link, whose target would stay as it was.
pub fn over(path: &Path, bytes: &[u8]) -> io::Result<()> {
    no_link(path)?;
    let may = fs::metadata(path)?.permissions();
    whole(path, bytes)?;
    // Where there are none to set, asking to set them is refused.
    if fs::metadata(path)?.permissions() == may { Ok(()) } else { fs::set_permissions(path, may) }
}

/// Makes sure that the names in a folder are on the disk. Only Unix lets a folder be synced.
pub fn sync(dir: &Path) -> io::Result<()> {
    if cfg!(unix) {
        let dir = if dir.as_os_str().is_empty() { Path::new(".") } else { dir };
        whole_folder(dir)?.sync_all()?;
    }
    Ok(())
}

/// A file to lock, made if it is not there; what is in it stays.
pub fn lock(path: &Path) -> io::Result<File> {
    no_link(path)?;
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    ordinary(without_waiting(&mut options, false).open(path).map_err(told)?)
}

/// A folder to write in, made if it is not there. Errors: a link, which may lead out of the folder around it.
pub fn folder(path: &Path) -> io::Result<()> {
    no_link(path)?;
    fs::create_dir_all(path)
}

/// The system says of a link only that there are too many of them.
#[cfg(unix)]
fn told(fault: io::Error) -> io::Error {
    if fault.raw_os_error() == Some(libc::ELOOP) { link() } else { fault }
}

#[cfg(unix)]
fn only_name(file: File) -> io::Result<File> {
    use std::os::unix::fs::MetadataExt;
    if file.metadata()?.nlink() < 2 {
        return Ok(file);
    }
    let message =
        "it has a second name (a hard link), under which it would be written as well: put a copy in its place";
    Err(io::Error::new(io::ErrorKind::InvalidInput, message))
}

#[cfg(not(unix))]
fn only_name(file: File) -> io::Result<File> {
    Ok(file)
}

#[cfg(not(unix))]
fn told(fault: io::Error) -> io::Error {
    fault
}

// A test says by failing what was wrong.
#[cfg(all(test, unix))]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::os::unix::fs::symlink;
    use std::os::unix::net::UnixListener;

    use super::*;
    use crate::{bytes, open, text};

    /// A folder with an ordinary file, links to it, to nothing and to devices, a folder, a pipe and a socket.
    fn zoo() -> (tempfile::TempDir, Vec<PathBuf>) {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        create(&at("file")).unwrap().write_all(b"kept").unwrap();
        symlink(at("file"), at("link")).unwrap();
        symlink(at("nothing"), at("dangling")).unwrap();
        symlink("/dev/zero", at("zeros")).unwrap();
        symlink("/dev/full", at("full")).unwrap();
        fs::create_dir(at("folder")).unwrap();
        let made = std::process::Command::new("mkfifo").arg(at("pipe")).status().unwrap();
        assert!(made.success());
        drop(UnixListener::bind(at("socket")).unwrap());
        let names = ["link", "dangling", "zeros", "full", "folder", "pipe", "socket"];
        let paths = names.map(at).to_vec();
        (dir, paths)
    }

    #[test]
    fn nothing_but_an_ordinary_file_is_read() {
        let (dir, paths) = zoo();
        for path in &paths[1..] {
            assert!(open(path).is_err(), "{}", path.display());
            assert!(bytes(path, 10).is_err(), "{}", path.display());
        }
        // A link to an ordinary file is read: a photo may be kept elsewhere.
        assert_eq!(text(&paths[0], 4).unwrap(), "kept");
        assert_eq!(bytes(&dir.path().join("file"), 3).unwrap_err().kind(), io::ErrorKind::FileTooLarge);
    }

    #[test]
    fn nothing_behind_a_link_is_written() {
        let (dir, paths) = zoo();
        for path in &paths {
            assert!(create(path).is_err(), "{}", path.display());
            assert!(append(path, true).is_err(), "{}", path.display());
            assert!(append(path, false).is_err(), "{}", path.display());
            assert!(lock(path).is_err(), "{}", path.display());
        }
        assert!(!dir.path().join("nothing").exists(), "a dangling link makes no file");
        symlink(dir.path().join("folder"), dir.path().join("elsewhere")).unwrap();
        assert!(folder(&dir.path().join("elsewhere")).is_err());
        assert_eq!(text(&dir.path().join("file"), 9).unwrap(), "kept");
    }

    #[test]
    fn what_is_replaced_is_the_name_and_not_the_file() {
        let (dir, paths) = zoo();
        let second = dir.path().join("second-name");
        fs::hard_link(dir.path().join("file"), &second).unwrap();
        assert!(append(&second, false).is_err() && append(&dir.path().join("file"), false).is_err());
        for path in [&paths[0], &second, &paths[5]] {
            replace(path).unwrap().write_all(b"new").unwrap();
            assert_eq!(text(path, 9).unwrap(), "new");
        }
        assert_eq!(text(&dir.path().join("file"), 9).unwrap(), "kept");
        assert!(append(&dir.path().join("file"), false).is_ok(), "one name is left");
    }

    #[test]
    fn a_fresh_file_takes_no_name_that_is_taken() {
        let (dir, paths) = zoo();
        for path in paths.iter().chain([&dir.path().join("file")]) {
            let made = fresh(path, |file| file.write_all(b"new"));
            assert_eq!(made.unwrap_err().kind(), io::ErrorKind::AlreadyExists, "{}", path.display());
        }
        assert_eq!(text(&dir.path().join("file"), 4).unwrap(), "kept");
        let late = dir.path().join("late");
        let made = fresh(&late, |file| {
            fs::write(&late, "other")?;
            file.write_all(b"new")
        });
        assert_eq!(
            (made.unwrap_err().kind(), text(&late, 9).unwrap().as_str()),
            (io::ErrorKind::AlreadyExists, "other")
        );
        let fails = dir.path().join("fails");
        assert!(fresh(&fails, |file| file.write_all(b"half").and(Err::<(), _>(io::Error::other("no")))).is_err());
        assert!(!fails.exists() && !part_of(&fails).exists());
        let new = dir.path().join("new");
        fresh(&new, |file| file.write_all(b"new")).unwrap();
        assert_eq!(text(&new, 9).unwrap(), "new");
        assert!(!part_of(&new).exists() && append(&new, false).is_ok(), "one name is left");
    }

    #[test]
    fn what_is_handed_out_lies_in_the_folder() {
        let (dir, _) = zoo();
        fs::write(dir.path().join("folder/inner"), "in").unwrap();
        symlink(dir.path().join("folder"), dir.path().join("way")).unwrap();
        for name in ["link", "dangling", "zeros", "folder", "pipe", "socket", "way/inner", "gone"] {
            assert!(crate::own(dir.path(), name).is_err(), "{name}");
        }
        assert!(crate::own(dir.path(), "file").is_ok() && crate::own(dir.path(), "folder/inner").is_ok());
    }

    #[test]
    fn what_is_written_over_keeps_its_rights_and_no_link_is() {
        use std::os::unix::fs::PermissionsExt;
        let (dir, paths) = zoo();
        let file = dir.path().join("file");
        fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
        over(&file, b"new").unwrap();
        let rights = fs::metadata(&file).unwrap().permissions().mode() & 0o777;
        assert_eq!((text(&file, 4).unwrap().as_str(), rights), ("new", 0o640));
        assert!(over(&paths[0], b"other").is_err());
        assert_eq!(text(&file, 4).unwrap(), "new");
    }
}
