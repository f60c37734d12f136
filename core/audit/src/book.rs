//! The book of the workshop that lies beside the jobs: what it says of a job, and what it says of jobs that are not here.

use std::path::{Path, PathBuf};

use indexmap::IndexMap;
use standpipe_book::{Book, Entry, Line, What};
use standpipe_job::Moment;
use standpipe_job::journal::{Contents, LINES};
use standpipe_pack::is_pack;
use standpipe_sign::{Beside, all_beside};

use super::entered;
use super::journal::Audited;
use super::known::{Known, Unread};
use super::point::{At, Point, Verdict};

/// What the book has to say of a journal and its signatures, as they stand: each entry but for what only the book knows. `now`: when
/// signatures are entered that were not.
///
/// Errors: the signatures can't be read.
pub fn due(folder: &Path, contents: &Contents, now: Moment) -> std::io::Result<Vec<Entry>> {
    let mut entries = due_by(&Book::name_of(folder), contents);
    let job = entries.first().map(|entry| entry.job.clone()).unwrap_or_default();
    let signed = all_beside(folder)?;
    entries.extend(signed.iter().filter_map(|file| file.due(&job, folder, &contents.heads, now)));
    Ok(entries)
}

/// `name`: of the folder in which the job lies.
pub(super) fn due_by(name: &str, contents: &Contents) -> Vec<Entry> {
    let job = contents.records.first().and_then(|record| match &record.event {
        standpipe_job::Event::Opened { job, .. } => Some(job.clone()),
        _ => None,
    });
    let mut entries = Vec::new();
    for record in &contents.records {
        let Some(what) = standpipe_job::booked(&record.event) else { continue };
        let of = contents.ends.iter().copied().find(|end| *end >= record.seq).unwrap_or(record.seq);
        let Some(head) = (of as usize).checked_sub(1).and_then(|at| contents.heads.get(at)) else { continue };
        entries.push(Entry {
            what,
            job: job.clone().unwrap_or_default(),
            folder: name.to_owned(),
            of,
            head: head.clone(),
            at: record.at.to_string(),
            late: false,
            signature: None,
        });
    }
    entries
}

pub(super) fn point(folder: &Path, contents: &Contents, known: &Known, beside: &[Beside], journal: &str) -> Point {
    let mut point = Point::new("book", journal);
    let said = match &known.said {
        Ok(said) => said,
        Err(unread) => {
            let place = At { file: known.file.clone(), line: unread.line };
            point.find_in(unread.verdict, place, unread.why.clone());
            return point;
        }
    };
    let name = Book::name_of(folder);
    let lines = said.of(&name);
    let here = |index: usize| At { file: known.file.clone(), line: lines.get(index).map(|line| line.seq) };
    compare(&mut point, lines, &due_by(&name, contents), &contents.heads, here);
    entered::compare(&mut point, said, &name, (beside, &contents.heads, &folder.display().to_string()), here);
    point
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
            (None, _) => fails(format!(
                "`{job}` was {words} with event {of}, and its journal ends with event {}: it was cut off",
                heads.len()
            )),
            (Some(found), _) if found != head => {
                fails(format!(
                    "`{job}` was {words} with event {of}, and that line is different now: the journal was replaced"
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
                let Unread { verdict, why, .. } = Unread::of(&fault);
                gone.push(without(folder, verdict, why));
                continue;
            }
        };
        found = found || lines.iter().any(|line| Some(line.hash.as_str()) == printed);
        if Book::of(folder).is_some() {
            gone.extend(not_here(&book, folder, lines));
        }
    }
    if !found {
        gone.push(without(
            folders[0],
            Verdict::DoesNotHold,
            "no line has the hash that was printed: this is not the book of that day",
        ));
    }
    gone
}

fn not_here(book: &Book, folder: &Path, lines: Vec<Line>) -> Vec<Audited> {
    let mut all: IndexMap<String, Vec<Line>> = IndexMap::new();
    for line in lines.into_iter().filter(|line| line.entry.what != What::Begun) {
        all.entry(line.entry.folder.clone()).or_default().push(line);
    }
    let gone = all.into_iter().filter(|(name, _)| !folder.join(name).join(LINES).exists());
    let told = |(name, lines): (String, Vec<Line>)| {
        let events = lines.iter().map(|line| line.entry.of).max().unwrap_or_default();
        let (signed, work): (Vec<&Line>, Vec<&Line>) = lines.iter().partition(|line| line.entry.what == What::Signed);
        let line = work.last().or(signed.last()).copied().unwrap_or(&lines[0]);
        let mut audited = Audited::new(&folder.join(&name));
        audited.job.clone_from(&line.entry.job);
        audited.state = "missing";
        let mut point = Point::new("book", &book.path().display().to_string());
        let what = line.entry.what.words();
        let signatures = match signed.len() {
            0 => String::new(),
            1 => " and 1 signature".to_owned(),
            some => format!(" and {some} signatures"),
        };
        let message = format!(
            "`{}` was {what} here on {}, and is gone with its {events} events{signatures}, as far as the book knows",
            line.entry.job, line.entry.at
        );
        point.find(Verdict::DoesNotHold, Some(line.seq), message);
        audited.points.push(point);
        audited.settle()
    };
    gone.map(told).collect()
}

fn without(folder: &Path, verdict: Verdict, message: impl Into<String>) -> Audited {
    let mut audited = Audited::new(folder);
    audited.state = "book";
    let mut point = Point::new("book", &folder.join(standpipe_book::FILE).display().to_string());
    point.find(verdict, None, message);
    audited.points.push(point);
    audited.settle()
}
