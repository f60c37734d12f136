//! What `check --fix` writes: changes that can only be meant in one way, comments and order kept.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Path, PathBuf};

use serde_json::{Value as Json, json};

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// One file as it is, and as it is to be.
pub struct Fixed {
    path: PathBuf,
    before: String,
    after: String,
    changes: Vec<Change>,
}

/// A line that is written otherwise.
struct Change {
    code: Code,
    line: usize,
    was: String,
    is: String,
}

/// Bytes that are written over, what stands there then, and by which message.
type Wanted<'a> = (Range<usize>, &'a str, Code);

/// The files among `paths`, or in folders of these, that would be written otherwise.
pub fn certain(problems: &[Diagnostic], paths: &[PathBuf]) -> Vec<Fixed> {
    let roots: Vec<PathBuf> = paths.iter().filter_map(|path| path.canonicalize().ok()).collect();
    // A slip is made once. Where one name would be written over at several places, what they name is as likely misspelt.
    let alike = |problem: &&Diagnostic| -> usize {
        let name = |of: &Diagnostic| Some((of.meant.clone()?, of.mend.as_ref()?.place.text().to_owned()));
        name(problem).map_or(0, |wanted| problems.iter().filter(|other| name(other).as_ref() == Some(&wanted)).count())
    };
    let mut files: BTreeMap<PathBuf, (String, Vec<Wanted<'_>>)> = BTreeMap::new();
    for problem in problems.iter().filter(|problem| alike(problem) < 2) {
        let Some(mend) = &problem.mend else { continue };
        let Ok(path) = Path::new(mend.place.name()).canonicalize() else { continue };
        // Texts that came with the program have names that are no paths of this folder, but may look like some.
        let named = roots.iter().any(|root| path.starts_with(root));
        let text = &mend.place.source().text;
        if named && standpipe_disk::text(&path, standpipe_disk::TEXT).is_ok_and(|found| found == *text) {
            let name = PathBuf::from(mend.place.name());
            let file = files.entry(name).or_insert_with(|| (text.clone(), Vec::new()));
            file.1.push((mend.place.range(), &mend.write, problem.code));
        }
    }
    files.into_iter().filter_map(|(path, (text, mends))| Fixed::of(path, text, mends)).collect()
}

impl Fixed {
    fn of(path: PathBuf, before: String, mut mends: Vec<Wanted<'_>>) -> Option<Self> {
        mends.sort_by_key(|(range, ..)| (range.start, range.end));
        let line_start = |at: usize| before[..at].rfind('\n').map_or(0, |newline| newline + 1);
        let line_end = |at: usize| before[at..].find('\n').map_or(before.len(), |length| at + length);
        let (mut after, mut done) = (String::new(), 0);
        let mut changes: Vec<Change> = Vec::new();
        let mut last_line = None;
        for (range, write, code) in mends {
            // Two changes of one place, or of one line: the first is made, and the other looked at again after it.
            let line = line_start(range.start);
            if range.start < done || last_line == Some(line) {
                continue;
            }
            last_line = Some(line);
            after.push_str(&before[done..range.start]);
            after.push_str(write);
            done = range.end;
            changes.push(Change {
                code,
                line: before[..range.start].matches('\n').count() + 1,
                was: before[line..line_end(range.end)].to_owned(),
                is: format!("{}{write}{}", &before[line..range.start], &before[range.end..line_end(range.end)]),
            });
        }
        after.push_str(&before[done..]);
        (after != before).then_some(Self { path, before, after, changes })
    }

    /// Errors: a message about a file that could not be written.
    pub fn write(&self) -> Result<(), Box<Diagnostic>> {
        self.put(&self.after)
    }

    pub fn put_back(&self) -> Result<(), Box<Diagnostic>> {
        self.put(&self.before)
    }

    fn put(&self, text: &str) -> Result<(), Box<Diagnostic>> {
        standpipe_disk::over(&self.path, text.as_bytes()).map_err(|fault| {
            let name = self.path.display().to_string();
            let place = Place::whole(&Source::new(name.clone(), ""));
            let problem = Diagnostic::error(Code::Unwritable, &place, format!("`{name}` can't be written: {fault}"));
            Box::new(problem.help("make the file writable; nothing in it has changed"))
        })
    }

    /// Whether a later change begins where one of these ended up.
    fn meets(&self, later: &Self) -> bool {
        let same = |one: &Change| later.changes.iter().any(|other| other.code == one.code && other.was == one.is);
        self.path == later.path && self.changes.iter().any(same)
    }

    /// What changes, line by line.
    pub fn words(&self) -> String {
        let mut words = String::new();
        for change in &self.changes {
            words.push_str(&format!("In {}, line {}:\n", self.path.display(), change.line));
            for (word, line) in
                change.was.lines().map(|line| ("was", line)).chain(change.is.lines().map(|line| ("is", line)))
            {
                words.push_str(&format!("    {word:<4} {}\n", line.trim_end()));
            }
        }
        words
    }

    pub fn json(&self) -> Vec<Json> {
        let file = self.path.display().to_string();
        let told = |change: &Change| json!({ "file": file, "line": change.line, "code": change.code, "was": change.was, "is": change.is });
        self.changes.iter().map(told).collect()
    }
}

/// Writes what is certain and looks again, until nothing is: what was mended may have hidden other slips. `look` gives what is
/// wrong now. A round after which a file would be changed at the same place again is put back: it did not help. How much is wrong
/// says nothing: a file that could not be read shows its other faults once it can.
pub fn all<T>(paths: &[PathBuf], look: &dyn Fn() -> (Problems, T)) -> (Vec<Fixed>, Problems, T) {
    let mut written = Vec::new();
    let (mut problems, mut counts) = look();
    // Each round mends a line at least; a file has more slips than this only where nobody looked at it before.
    for _ in 0..50 {
        let round = certain(&problems, paths);
        if round.is_empty() {
            break;
        }
        let faults: Problems = round.iter().filter_map(|file| file.write().err()).map(|fault| *fault).collect();
        let (now, counted) = look();
        let again = certain(&now, paths);
        let helped = !round.iter().any(|file| again.iter().any(|other| file.meets(other)));
        if faults.is_empty() && helped {
            (problems, counts) = (now, counted);
            written.extend(round);
            continue;
        }
        problems.extend(faults);
        problems.extend(round.iter().filter_map(|file| file.put_back().err()).map(|fault| *fault));
        break;
    }
    (written, problems, counts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::Near;

    #[test]
    fn changes_are_made_where_they_stand_and_one_a_line() {
        let text = "a: heigt # kept\nb: [leng, mas]\r\nc: x\n";
        let path = PathBuf::from("a.yaml");
        let mend = |word: &str, write: &'static str| {
            let at = text.find(word).unwrap();
            (at..at + word.len(), write, Code::UnknownKey)
        };
        let mends = vec![mend("leng", "length"), mend("heigt", "height"), mend("mas", "mass")];
        let fixed = Fixed::of(path.clone(), text.to_owned(), mends).unwrap();
        assert_eq!(fixed.after, "a: height # kept\nb: [length, mas]\r\nc: x\n");
        let words = "In a.yaml, line 1:\n    was  a: heigt # kept\n    is   a: height # kept\n\
                     In a.yaml, line 2:\n    was  b: [leng, mas]\n    is   b: [length, mas]\n";
        assert_eq!(fixed.words(), words);
        assert!(Fixed::of(path, text.to_owned(), vec![mend("heigt", "heigt")]).is_none());
    }

    fn slip(file: &Path, text: &str, word: &str, write: &str) -> Diagnostic {
        let source = Source::new(file.display().to_string(), text);
        let at = text.find(word).unwrap();
        let place = Place::new(&source, at..at + word.len());
        let near = Near { name: write.to_owned(), certain: true };
        Diagnostic::error(Code::UnknownName, &place, "x").meant(word, &near)
    }

    #[test]
    fn only_what_was_named_is_written_and_a_word_at_one_place_only() {
        let folder = tempfile::tempdir().unwrap();
        let files = ["a.yaml", "b.yaml"].map(|name| folder.path().join(name));
        for file in &files {
            std::fs::write(file, "heigt\n").unwrap();
        }
        let both = |of: &[&PathBuf]| of.iter().map(|file| slip(file, "heigt\n", "heigt", "height")).collect::<Vec<_>>();
        let paths = |found: Vec<Fixed>| found.into_iter().map(|file| file.path).collect::<Vec<_>>();
        let whole = [folder.path().to_owned()];
        assert_eq!(paths(certain(&both(&[&files[0]]), &whole)), [files[0].clone()]);
        assert!(certain(&both(&[&files[0]]), &files[1..]).is_empty(), "nobody named it");
        // What these name is as likely misspelt.
        assert!(certain(&both(&[&files[0], &files[1]]), &whole).is_empty());
        // The file has changed since it was read.
        std::fs::write(&files[0], "height\n").unwrap();
        assert!(certain(&both(&[&files[0]]), &whole).is_empty());
    }

    #[test]
    fn a_change_that_does_not_help_is_put_back() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.yaml");
        std::fs::write(&file, "word\n").unwrap();
        let never_right = || {
            let text = std::fs::read_to_string(&file).unwrap();
            let word = text.trim().to_owned();
            (vec![slip(&file, &text, &word, &format!("{word}d"))], ())
        };
        let (written, left, ()) = all(&[folder.path().to_owned()], &never_right);
        assert_eq!((written.len(), left.len()), (0, 1));
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "word\n");
    }
}
