//! Folders of journals below a path.

use std::fs;
use std::path::{Path, PathBuf};

use super::Journal;

/// Folders below this many others are no place for jobs.
const DEEPEST: usize = 6;

/// The folders of journals below a folder, in the order of their names; the folder itself if it is one.
pub fn below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    find(folder, 0, &mut found);
    found
}

fn find(folder: &Path, depth: usize, found: &mut Vec<PathBuf>) {
    if Journal::is_in(folder) {
        found.push(folder.to_owned());
        return;
    }
    let Ok(entries) = fs::read_dir(folder) else { return };
    let mut inner: Vec<PathBuf> = entries
        .filter_map(|entry| entry.ok())
        // A link could lead round in circles.
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()))
        .map(|entry| entry.path())
        .filter(|path| !path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.')))
        .collect();
    inner.sort();
    if depth < DEEPEST {
        inner.iter().for_each(|path| find(path, depth + 1, found));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn jobs_are_found_some_folders_down_and_no_further() {
        let root = tempfile::tempdir().unwrap();
        let job = |depth: usize| {
            let folder =
                (0..depth).fold(root.path().join(format!("{depth}")), |path, level| path.join(level.to_string()));
            fs::create_dir_all(&folder).unwrap();
            fs::write(folder.join(super::super::LINES), "{}\n").unwrap();
            folder
        };
        let (near, deepest) = (job(2), job(DEEPEST - 1));
        job(DEEPEST);
        assert_eq!(below(root.path()), [near, deepest]);
    }
}
