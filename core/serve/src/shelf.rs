//! The jobs of one folder: those that have a journal, and job files that wait to be begun. A job is reached by an id from this
//! list and in no other way, so that no address leads out of the folder.

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

use indexmap::IndexMap;
use serde::Serialize;
use tokio::sync::watch;

use crate::followed::Desk;
use crate::keeper::{Begin, Keeper};
use crate::view;
use standpipe_diagnostic::{Diagnostic, Problems};
use standpipe_job::plan::{Inputs, RawJob, build};
use standpipe_job::{Hold, Journal, OpenJob, journal};
use standpipe_report::jobs::{self, Row};

/// Reads everything that a job file leads to. The program that serves knows where plugins and shop lie.
pub type Read = Arc<dyn Fn(&Path, &mut Problems) -> Option<Inputs> + Send + Sync>;

/// Where a job lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    pub folder: PathBuf,
    /// The job file, while there is no journal.
    pub file: Option<PathBuf>,
}

/// A job in the list.
#[derive(Clone, Debug, Serialize)]
pub struct Listed {
    pub id: String,
    pub job: String,
    /// None where it is not begun, or can't be read.
    pub row: Option<Row>,
    /// There is a job file and no journal yet.
    pub waits: bool,
    /// What the work is done on; empty where that can't be told.
    pub subject: String,
    /// What is to be done, of a job that is not begun; or why it can't be read or begun.
    pub says: String,
    pub faulty: bool,
}

impl Listed {
    /// A job that has a journal.
    pub fn of(id: String, job: &OpenJob) -> Self {
        let row = jobs::row_of(job.machine(), job.state(), &job.pending(), job.records(), job.dir());
        let broken = job.problems().iter().find(|problem| problem.is_error());
        let says = broken.map(|problem| problem.message.clone()).unwrap_or_default();
        let (job, subject) = (row.job.clone(), row.subject.clone());
        Self { id, job, row: Some(row), waits: false, subject, says, faulty: broken.is_some() }
    }
}

/// Length and time of a journal: as long as both are the same, so is its row.
type Stamp = (u64, Option<SystemTime>);

pub struct Shelf {
    folder: PathBuf,
    read: Read,
    desk: Option<Desk>,
    changed: watch::Sender<u64>,
    keepers: Mutex<HashMap<String, Keeper>>,
    /// Rows as they were made, by their folder.
    rows: Mutex<HashMap<PathBuf, (Stamp, Listed)>>,
}

impl Shelf {
    pub fn new(folder: &Path, read: Read, desk: Option<Desk>) -> Self {
        Self {
            folder: folder.to_owned(),
            read,
            desk,
            changed: watch::channel(0).0,
            keepers: Mutex::default(),
            rows: Mutex::default(),
        }
    }

    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Counts changes of any job that is looked at here.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// A job file was just written: its id, and the lists that are shown are told.
    pub fn opened(&self, file: &Path) -> String {
        self.changed.send_modify(|number| *number += 1);
        let found = self.places().into_iter().find(|(_, place)| place.file.as_deref() == Some(file));
        found.map(|(id, _)| id).unwrap_or_default()
    }

    /// All jobs by their ids. Looks at the disk.
    pub fn places(&self) -> IndexMap<String, Place> {
        let mut places = IndexMap::new();
        let folders = journal::below(&self.folder);
        for folder in &folders {
            add(&mut places, id_of(&self.folder, folder), Place { folder: folder.clone(), file: None });
        }
        for file in job_files(&self.folder) {
            let folder = file.with_extension("job");
            if !folders.contains(&folder) {
                add(&mut places, id_of(&self.folder, &folder), Place { folder, file: Some(file) });
            }
        }
        places
    }

    pub fn place(&self, id: &str) -> Option<Place> {
        self.places().shift_remove(id)
    }

    /// The list, the open ones first. Looks at the disk.
    pub fn list(&self) -> Vec<Listed> {
        let mut list: Vec<Listed> = self.places().into_iter().map(|(id, place)| self.listed(id, &place)).collect();
        list.sort_by_key(|listed| match &listed.row {
            Some(row) if row.open => 0,
            None if !listed.faulty => 1,
            _ => 2,
        });
        list
    }

    /// A job as the list has it. Looks at the disk, where nobody writes to it here.
    pub fn listed(&self, id: String, place: &Place) -> Listed {
        let view = self.running(&id).and_then(|keeper| keeper.views.borrow().clone());
        if let Some(view) = view.filter(|view| view.hold == view::Hold::Ours) {
            return view.listed.clone();
        }
        let text = place.file.clone().unwrap_or_else(|| place.folder.join("journal.jsonl"));
        let meta = fs::metadata(&text).ok();
        let stamp = (meta.as_ref().map_or(0, fs::Metadata::len), meta.and_then(|meta| meta.modified().ok()));
        // Not held while a journal is read: others wait for rows that are there.
        let rows = || self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((known, listed)) = rows().get(&text)
            && *known == stamp
        {
            return listed.clone();
        }
        if let Some(file) = &place.file {
            let listed = self.waiting(id, file);
            // What keeps it from being begun may be mended in another file.
            if !listed.faulty {
                rows().insert(text, (stamp, listed.clone()));
            }
            return listed;
        }
        let listed = match OpenJob::open(&place.folder, Hold::Look) {
            Ok(job) => Listed::of(id, &job),
            Err(problems) => unreadable(id, &problems),
        };
        rows().insert(text, (stamp, listed.clone()));
        listed
    }

    /// The keeper of a job that has a journal, if it is at work. Looks at nothing else.
    pub fn running(&self, id: &str) -> Option<Keeper> {
        let keepers = self.keepers.lock().unwrap_or_else(PoisonError::into_inner);
        keepers.get(id).filter(|keeper| !keeper.is_gone() && keeper.views.borrow().is_some()).cloned()
    }

    /// The keeper of a job, started if nobody looked at it before. Looks at the disk only then: what one page costs must not grow
    /// with the jobs of the folder.
    pub fn keeper(&self, id: &str) -> Option<Keeper> {
        let known = |keepers: &HashMap<String, Keeper>| keepers.get(id).filter(|keeper| !keeper.is_gone()).cloned();
        let keepers = || self.keepers.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(keeper) = known(&keepers()) {
            return Some(keeper);
        }
        let place = self.place(id)?;
        let mut keepers = keepers();
        // Another page may have been first.
        if let Some(keeper) = known(&keepers) {
            return Some(keeper);
        }
        let (begin, desk) = (self.begin(id), self.desk.clone());
        let keeper = Keeper::start(id.to_owned(), place.folder, begin, desk, self.changed.clone()).ok()?;
        keepers.insert(id.to_owned(), keeper.clone());
        Some(keeper)
    }

    fn begin(&self, id: &str) -> Option<Begin> {
        let file = self.place(id)?.file?;
        let read = self.read.clone();
        Some(Arc::new(move || {
            let mut problems = Problems::new();
            let plan = read(&file, &mut problems).and_then(|inputs| build(inputs, &mut problems));
            plan.ok_or(problems)
        }))
    }

    /// A job file that is not begun: what it would be the plan of.
    fn waiting(&self, id: String, file: &Path) -> Listed {
        let mut problems = Problems::new();
        let source = standpipe_library::read_file(file, &mut problems);
        let Some(raw) = source.and_then(|source| RawJob::read(&source, &mut problems)) else {
            return unreadable(id, &problems);
        };
        let job = raw.id.value;
        match self
            .inputs(file)
            .and_then(|inputs| build(inputs, &mut problems).ok_or_else(|| std::mem::take(&mut problems)))
        {
            Ok(plan) => {
                let says = match &plan.family.title {
                    Some(family) => format!("{family}: {}", plan.main().title),
                    None => plan.main().title.clone(),
                };
                let subject = plan.subject(&IndexMap::new());
                Listed { id, job, row: None, waits: true, subject, says, faulty: false }
            }
            Err(problems) => Listed { job, waits: true, ..unreadable(id, &problems) },
        }
    }

    /// What a job file that is not begun leads to.
    pub fn inputs(&self, file: &Path) -> Result<Inputs, Problems> {
        let mut problems = Problems::new();
        (self.read)(file, &mut problems).ok_or(problems)
    }
}

fn words(problems: &[Diagnostic]) -> String {
    let words: Vec<&str> =
        problems.iter().filter(|problem| problem.is_error()).map(|problem| problem.message.as_str()).collect();
    words.join("; ")
}

fn unreadable(id: String, problems: &[Diagnostic]) -> Listed {
    let (job, says) = (id.clone(), words(problems));
    Listed { id, job, row: None, waits: false, subject: String::new(), says, faulty: true }
}

fn add(places: &mut IndexMap<String, Place>, id: String, place: Place) {
    let mut unique = id.clone();
    let mut number = 1;
    while places.contains_key(&unique) {
        number += 1;
        unique = format!("{id}-{number}");
    }
    places.insert(unique, place);
}

/// The path below the folder, in letters that stand in an address as they are.
fn id_of(folder: &Path, job: &Path) -> String {
    let inside = job.strip_prefix(folder).unwrap_or(job);
    let inside = if inside.as_os_str().is_empty() { Path::new(job.file_name().unwrap_or_default()) } else { inside };
    let plain = inside.to_string_lossy();
    let plain = plain.strip_suffix(".job").unwrap_or(&plain);
    let sign = |c: char| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') { c } else { '-' };
    plain.chars().map(sign).collect()
}

/// Files right in the folder that say of themselves that they are jobs. A link may lead anywhere, and is none.
fn job_files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let is_yaml = |path: &Path| path.extension().is_some_and(|end| end == "yaml" || end == "yml");
    let mut files: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()))
        .map(|entry| entry.path())
        .filter(|path| is_yaml(path) && !Journal::is_in(path))
        .filter(|path| standpipe_disk::text(path, standpipe_disk::TEXT).is_ok_and(|text| says_job(&text)))
        .collect();
    files.sort();
    files
}

fn says_job(text: &str) -> bool {
    text.lines().any(|line| line.starts_with("job:"))
}
