//! What a book says, or what a pack has of one: read once, and sorted by the folders of jobs.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use standpipe_book::{Book, Line, NEWER, extract, stamp};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::Moment;
use standpipe_library::Act;
use standpipe_pack::Unpacked;
use standpipe_sign::{After, Entered, InBook, name_of};

use super::point::Verdict;

/// Books that were read, by their folders: thousands of jobs lie beside one.
#[derive(Clone, Debug, Default)]
pub struct Books {
    read: Arc<Mutex<HashMap<PathBuf, Arc<Known>>>>,
}

#[derive(Debug)]
pub(super) struct Known {
    pub file: String,
    pub said: Result<Said, Unread>,
    /// What a pack has of a book is of one folder, whatever that was called.
    is_packed: bool,
}

/// Why a book says nothing.
#[derive(Debug)]
pub(super) struct Unread {
    pub verdict: Verdict,
    pub line: Option<u64>,
    pub why: String,
}

#[derive(Debug, Default)]
pub(super) struct Said {
    lines: HashMap<String, Vec<Line>>,
    /// Of the lines of signatures, by their numbers.
    after: HashMap<u64, After>,
    /// The line from which on signatures are entered, and its time.
    pub since: Option<(u64, Moment)>,
}

impl Books {
    /// Without a book there is nothing to say.
    pub(super) fn beside(&self, job: &Path) -> Option<Arc<Known>> {
        let book = Book::beside(job)?;
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        Some(read.entry(book.path()).or_insert_with(|| Arc::new(Known::new(&book))).clone())
    }
}

impl Unread {
    /// Nobody is accused of what this version can't read.
    pub(super) fn of(fault: &Diagnostic) -> Self {
        match fault.code {
            Code::NewerVersion => Self { verdict: Verdict::NotShown, line: None, why: fault.message.clone() },
            _ => {
                let why = format!("the book does not hold: {}", fault.message);
                Self { verdict: Verdict::DoesNotHold, line: None, why }
            }
        }
    }
}

impl Known {
    fn new(book: &Book) -> Self {
        let said = book.read().map(|lines| Said::new(lines, || stamps(book))).map_err(|fault| Unread::of(&fault));
        Self { file: book.path().display().to_string(), said, is_packed: false }
    }

    /// What a pack has of a book, if it has any; `folder` stands for the pack.
    pub(super) fn packed(pack: &Unpacked, folder: &Path) -> Option<Arc<Self>> {
        let bytes = pack.extract.as_deref()?;
        let said = extract::read(bytes).map(|lines| Said::new(lines, Vec::new)).map_err(|(line, why)| Unread {
            verdict: if why == NEWER { Verdict::NotShown } else { Verdict::DoesNotHold },
            line: Some(line),
            why: format!("line {line} of the extract of the book {why}"),
        });
        Some(Arc::new(Self { file: folder.display().to_string(), said, is_packed: true }))
    }

    /// When the signatures of a job were entered. Of one that was made anew the last line counts.
    pub(super) fn entered(&self, folder: &Path) -> Entered {
        let Ok(said) = &self.said else { return Entered::new() };
        let own = Book::name_of(folder);
        said.entered(if self.is_packed { said.only() } else { &own })
    }
}

/// Whether an authority signed them nobody has looked.
fn stamps(book: &Book) -> Vec<stamp::Stamp> {
    let kept = book.stamps().unwrap_or_default();
    kept.into_iter().filter_map(|kept| kept.stamp.ok()).collect()
}

impl Said {
    /// `stamps`: asked for where there are signatures.
    fn new(lines: Vec<Line>, stamps: impl FnOnce() -> Vec<stamp::Stamp>) -> Self {
        let mut said = Self::default();
        if let Some(first) = lines.iter().find(|line| line.keeps_signatures()) {
            said.since = first.entry.at.parse().ok().map(|at| (first.seq, at));
            said.after = bounds(&lines, &stamps());
        }
        for line in lines {
            said.lines.entry(line.entry.folder.clone()).or_default().push(line);
        }
        said
    }

    pub(super) fn of(&self, folder: &str) -> &[Line] {
        self.lines.get(folder).map_or(&[], Vec::as_slice)
    }

    /// An extract is of one folder.
    pub(super) fn only(&self) -> &str {
        self.lines.keys().next().map_or("", String::as_str)
    }

    fn entered(&self, folder: &str) -> Entered {
        let mut entered = Entered::new();
        for line in self.of(folder) {
            if let (Some(name), Some(after), Ok(at)) = (name(line), self.after.get(&line.seq), line.entry.at.parse()) {
                entered.insert(name, InBook { line: line.seq, at, late: line.entry.late, after: after.clone() });
            }
        }
        entered
    }
}

/// What the file of a signature is called that was entered in this line.
pub(super) fn name(line: &Line) -> Option<String> {
    let act = Act::of(&line.entry.signature.as_ref()?.act)?;
    Some(name_of(&line.entry.head, act))
}

/// For each line of a signature the latest time that it itself or any line before it has.
fn bounds(lines: &[Line], stamps: &[stamp::Stamp]) -> HashMap<u64, After> {
    let mut bounds = HashMap::new();
    let mut latest: Option<After> = None;
    let raise = |latest: &mut Option<After>, at: &str, line: u64, stamped: bool| {
        if let Ok(at) = at.parse::<Moment>()
            && latest.as_ref().is_none_or(|before| before.at < at)
        {
            *latest = Some(After { at, line, stamped });
        }
    };
    let stamped: HashMap<&str, &str> = stamps.iter().map(|stamp| (stamp.hash.as_str(), stamp.at.as_str())).collect();
    for line in lines {
        raise(&mut latest, &line.entry.at, line.seq, false);
        bounds.extend(line.entry.signature.as_ref().and(latest.clone()).map(|latest| (line.seq, latest)));
        if let Some(at) = stamped.get(line.hash.as_str()) {
            raise(&mut latest, at, line.seq, true);
        }
    }
    bounds
}
