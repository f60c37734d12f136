//! The texts that a plan is built from, in a file beside it that is named by their hash.
//!
//! Jobs of one shop have most texts in common. A job whose neighbour keeps the same ones gets a second name of that file,
//! where the file system knows such: every folder is whole, and can be copied or moved by itself. Nothing writes to it again.

use std::fs;
use std::io;
use std::path::Path;

use super::{LARGEST_PLAN, chain, folder};
use standpipe_diagnostic::{Code, Diagnostic};

/// So many digits of a hash tell files of one folder apart; the whole hash is compared when it is read.
const DIGITS: usize = 16;

fn name(hash: &str) -> Option<String> {
    let sound = hash.len() == 64 && hash.bytes().all(|byte| byte.is_ascii_hexdigit());
    sound.then(|| format!("texts-{}.json", &hash[..DIGITS]))
}

/// Keeps the texts of a job that begins; they are on the disk when it returns.
pub(super) fn keep(dir: &Path, texts: &str) -> io::Result<()> {
    let Some(name) = name(&chain::hash(texts.as_bytes())) else { return Ok(()) };
    let path = dir.join(&name);
    if shared(dir, &name, texts).is_some() {
        return folder::sync(dir);
    }
    folder::write_whole(&path, texts.as_bytes())
}

/// Gives the file of a neighbour a second name, if one has the same bytes.
fn shared(dir: &Path, name: &str, texts: &str) -> Option<()> {
    let dir = dir.canonicalize().ok()?;
    let neighbours = fs::read_dir(dir.parent()?).ok()?.filter_map(Result::ok).map(|entry| entry.path());
    let has = |path: &Path| standpipe_disk::bytes(path, LARGEST_PLAN).is_ok_and(|bytes| bytes == texts.as_bytes());
    let mut found = neighbours.filter(|other| *other != dir).map(|other| other.join(name)).filter(|path| path.exists());
    let found = found.find(|path| has(path))?;
    fs::hard_link(found, dir.join(name)).ok()
}

/// Reads them again; they are what the plan names, or an error.
pub(super) fn read(dir: &Path, hash: &str) -> Result<String, Box<Diagnostic>> {
    let broken = |path: &Path, message: String| {
        let problem = Diagnostic::error(Code::BrokenJournal, &folder::place_of(path), message);
        Box::new(problem.help("put the file back from a copy of the folder"))
    };
    let Some(name) = name(hash) else {
        return Err(broken(dir, "the plan does not say which texts it is built from".to_owned()));
    };
    let path = dir.join(name);
    let bytes = folder::read(&path, LARGEST_PLAN)?;
    if chain::hash(&bytes) != hash {
        return Err(broken(&path, format!("`{}` was changed after it was written", path.display())));
    }
    String::from_utf8(bytes).map_err(|_| broken(&path, format!("`{}` is not text", path.display())))
}
