//! The book of the workshop that lies beside the jobs: what it says of a job, and what it says of jobs that are not here.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use indexmap::IndexMap;
use standpipe_book::{Book, Entry, Line, What};
use standpipe_diagnostic::Diagnostic;
use standpipe_job::journal::{Contents, LINES};
use standpipe_pack::is_pack;
use standpipe_sign::heads;

use super::journal::Audited;
use super::point::{At, Point, Verdict};

/// Books that were read, by their folders: thousands of jobs lie beside one.
#[derive(Clone, Debug, Default)]
pub struct Books {
    read: Arc<Mutex<HashMap<PathBuf, Arc<Known>>>>,
}

/// A book, its lines by the names of folders. Without a book there is nothing to say.
#[derive(Debug)]
struct Known {
    file: String,
    lines: Result<HashMap<String, Vec<Line>>, Box<Diagnostic>>,
}

impl Books {
    fn beside(&self, job: &Path) -> Option<Arc<Known>> {
        let book = Book::beside(job)?;
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        Some(read.entry(book.path()).or_insert_with(|| Arc::new(Known::new(&book))).clone())
    }
}

impl Known {
    fn new(book: &Book) -> Self {
        let lines = book.read().map(|lines| {
            let mut all: HashMap<String, Vec<Line>> = HashMap::new();
            for line in lines {
                all.entry(line.entry.folder.clone()).or_default().push(line);
            }
            all
        });
        Self { file: book.path().display().to_string(), lines }
    }
}

/// What the book has to say of a journal, as it stands: each entry but for what only the book knows.
pub fn due(folder: &Path, contents: &Contents) -> std::io::Result<Vec<Entry>> {
    Ok(due_by(&Book::name_of(folder), contents, &heads(folder)?))
}

/// `name`: of the folder in which the job lies.
pub(super) fn due_by(name: &str, contents: &Contents, heads: &[String]) -> Vec<Entry> {
    let job = contents.records.first().and_then(|record| match &record.event {
        standpipe_job::Event::Opened { job, .. } => Some(job.clone()),
        _ => None,
    });
    let mut entries = Vec::new();
    for record in &contents.records {
        let Some(what) = standpipe_job::booked(&record.event) else { continue };
        let of = contents.ends.iter().copied().find(|end| *end >= record.seq).unwrap_or(record.seq);
        let Some(head) = (of as usize).checked_sub(1).and_then(|at| heads.get(at)) else { continue };
        entries.push(Entry {
            what,
            job: job.clone().unwrap_or_default(),
            folder: name.to_owned(),
            of,
            head: head.clone(),
            at: record.at.to_string(),
            late: false,
        });
    }
    entries
}

/// None where no book lies beside the job.
pub(super) fn point(folder: &Path, contents: &Contents, books: &Books, journal: &str) -> Option<Point> {
    let known = books.beside(folder)?;
    let mut point = Point::new("book", journal);
    let lines = match &known.lines {
        Ok(lines) => lines,
        Err(fault) => {
            let place = At { file: known.file.clone(), line: None };
            point.find_in(Verdict::DoesNotHold, place, format!("the book does not hold: {}", fault.message));
            return Some(point);
        }
    };
    let Ok(heads) = heads(folder) else {
        point.find(Verdict::NotShown, None, "the journal can't be held against the book");
        return Some(point);
    };
    let due = due_by(&Book::name_of(folder), contents, &heads);
    let said = lines.get(&Book::name_of(folder)).map_or(&[][..], Vec::as_slice);
    compare(&mut point, said, &due, &heads, |index| At {
        file: known.file.clone(),
        line: said.get(index).map(|line| line.seq),
    });
    Some(point)
}

/// Holds lines of a book against a journal: what is due, and the hashes of its lines. `at`: where a line stands.
pub(super) fn compare(point: &mut Point, said: &[Line], due: &[Entry], heads: &[String], at: impl Fn(usize) -> At) {
    point.looked_at = said.len() as u64;
    let mut opened = false;
    for (index, line) in said.iter().enumerate() {
        let Entry { what, of, head, job, .. } = &line.entry;
        let here = at(index);
        let mut fails = |message: String| point.find_in(Verdict::DoesNotHold, here.clone(), message);
        let words = what.words();
        match (of.checked_sub(1).and_then(|at| heads.get(at as usize)), due.first()) {
            (None, _) => {
                fails(format!("`{job}` was {words} with event {of}, and its journal ends before that: it was cut off"))
            }
            (Some(found), _) if found != head => {
                fails(format!(
                    "`{job}` was {words} with event {of}, and that line is another now: the journal was exchanged"
                ));
            }
            (_, Some(first)) if first.job != *job => {
                fails(format!("this folder was that of `{job}`, and holds `{}`", first.job));
            }
            _ if *what == What::Opened && opened => fails(format!("`{job}` was opened twice")),
            _ => {}
        }
        opened = opened || *what == What::Opened;
    }
    let has = |entry: &&Entry| said.iter().any(|line| (line.entry.what, line.entry.of) == (entry.what, entry.of));
    for entry in due.iter().filter(|entry| !has(entry)) {
        point.unshown(entry.of, format!("{} here, and the book does not say so", entry.what.words()));
    }
}

/// What the books of these folders know and nothing here shows: jobs that are gone, and whether a line of the printed hash is there.
pub fn missing(folders: &[PathBuf], printed: Option<&str>) -> Vec<Audited> {
    let mut gone = Vec::new();
    let mut found = printed.is_none();
    // What packs have of a book is no book.
    let folders: Vec<&PathBuf> = folders.iter().filter(|folder| !is_pack(folder)).collect();
    if folders.is_empty() {
        return gone;
    }
    for folder in &folders {
        let beside = || Book::beside(folder).filter(|_| printed.is_some());
        let Some(book) = Book::of(folder).or_else(beside) else { continue };
        let lines = match book.read() {
            Ok(lines) => lines,
            // Also where no job is left beside it that could say so.
            Err(fault) => {
                gone.push(without(folder, format!("the book does not hold: {}", fault.message)));
                continue;
            }
        };
        found = found || lines.iter().any(|line| Some(line.hash.as_str()) == printed);
        if Book::of(folder).is_some() {
            gone.extend(not_here(&book, folder, lines));
        }
    }
    if !found {
        gone.push(without(folders[0], "no line has the hash that was printed: this is not the book of that day"));
    }
    gone
}

fn not_here(book: &Book, folder: &Path, lines: Vec<Line>) -> Vec<Audited> {
    let mut last: IndexMap<String, Line> = IndexMap::new();
    for line in lines.into_iter().filter(|line| line.entry.what != What::Begun) {
        last.insert(line.entry.folder.clone(), line);
    }
    let gone = last.into_iter().filter(|(name, _)| !folder.join(name).join(LINES).exists());
    let told = |(name, line): (String, Line)| {
        let mut audited = Audited::new(&folder.join(&name));
        audited.job.clone_from(&line.entry.job);
        audited.state = "missing";
        let mut point = Point::new("book", &book.path().display().to_string());
        let what = line.entry.what.words();
        let message = format!("`{}` was {what} here on {}, and is gone", line.entry.job, line.entry.at);
        point.find(Verdict::DoesNotHold, Some(line.seq), message);
        audited.points.push(point);
        audited.settle()
    };
    gone.map(told).collect()
}

fn without(folder: &Path, message: impl Into<String>) -> Audited {
    let mut audited = Audited::new(folder);
    audited.state = "book";
    let mut point = Point::new("book", &folder.join(standpipe_book::FILE).display().to_string());
    point.find(Verdict::DoesNotHold, None, message);
    audited.points.push(point);
    audited.settle()
}

/// The last line of a job in the book beside it, if that closes the job.
pub fn closing_line(folder: &Path) -> Option<Line> {
    let lines = Book::beside(folder)?.read().ok()?;
    let name = Book::name_of(folder);
    lines.into_iter().rev().find(|line| line.entry.folder == name).filter(|line| line.entry.what.closes())
}
