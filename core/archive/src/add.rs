//! Adds the jobs of many folders to an archive.

use std::fs;
use std::path::{Path, PathBuf};

use indexmap::IndexMap;
use serde::Deserialize;

use standpipe_audit::on_all_cores;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_disk::NotHeld;
use standpipe_job::journal::{LARGEST_JOURNAL, LINES};
use standpipe_job::plan::{Kept, sha256};

use crate::cell::Row;
use crate::columns;
use crate::key::{self, Key};
use crate::list::{Batch, Columns, List, about, taken_out, unread};
use crate::rows::{Job, OPEN, key_of, read};
use crate::table::{TABLES, Table};

/// Jobs that are in memory at a time, and at most in a file: some 300 MB of rows, and few enough files.
const AT_A_TIME: usize = 512;

/// A file of fewer closed jobs is written anew together with the next ones of its month: what a job takes falls by a third up to here.
const FEW: u64 = 256;

/// Jobs of one workshop, and the folder that its key lies in.
pub struct Source {
    pub folders: Vec<PathBuf>,
    pub key: PathBuf,
}

/// What came of it.
#[derive(Debug, Default)]
pub struct Added {
    /// Closed jobs that are there now and were not before.
    pub closed: u64,
    /// Jobs that are not closed, as they stand now.
    pub open: u64,
    /// Were there before.
    pub known: u64,
    /// Not added, for a reason that is among the problems.
    pub left_aside: u64,
    /// Key files that were made.
    pub keys: Vec<PathBuf>,
    /// Rows of each table, and bytes, of what was added.
    pub rows: IndexMap<&'static str, u64>,
    pub bytes: u64,
    pub problems: Problems,
}

/// A journal as a first look at its bytes shows it.
struct Seen {
    folder: PathBuf,
    source: usize,
    /// `2026-11`
    month: String,
    key: String,
    head: String,
}

/// Adds closed jobs to those of the archive, and puts those that are not closed in the place of the shop's earlier ones.
///
/// Errors: the archive can't be used at all, and nothing was changed. What is wrong with single jobs or files is among the problems.
pub fn add(sources: &[Source], into: &Path, with_words: bool) -> Result<Added, Box<Diagnostic>> {
    let mut added = Added::default();
    fs::create_dir_all(into).map_err(|fault| unwritten(into, &fault))?;
    let path = into.join("lock");
    let _held = standpipe_disk::hold(&path).map_err(|why| {
        let (who, help) = match why {
            NotHeld::Fault(fault) => return unwritten(&path, &fault),
            NotHeld::Here(_) => ("another run".to_owned(), "wait for it to end".to_owned()),
            NotHeld::Elsewhere { computer, file, .. } => {
                let file = file.display();
                let help =
                    format!("wait for it to end; if it ended without a word, as in a power cut, delete `{file}`");
                (format!("the computer {computer}"), help)
            }
        };
        Box::new(
            about(into, Code::JournalInUse, format!("{who} writes to the archive `{}`", into.display())).help(help),
        )
    })?;
    let mut list = List::read(into)?;
    let mut keys = Vec::new();
    for source in sources {
        let (made, is_new) = Key::of(&source.key)?;
        if is_new {
            added.keys.push(source.key.join(key::FILE));
        }
        keys.push(made);
    }
    list.leave_out_broken(into, &mut added.problems);
    let mut known = Known::default();
    let seen = known.new_ones(sources, &mut list, into, &mut added);
    let (mut open, mut replaced) = (Vec::new(), Vec::new());
    let mut shops = Vec::new();
    for some in seen.chunks(AT_A_TIME) {
        let mut closed = Vec::new();
        for (job, seen) in jobs(some, &keys, with_words).into_iter().zip(some) {
            let job = match job {
                Ok(job) => job,
                Err(problems) => {
                    added.left_aside += 1;
                    added.problems.extend(problems);
                    continue;
                }
            };
            if let Err(problem) = registered(&mut list, &job.shop, &keys[seen.source], &seen.folder) {
                added.left_aside += 1;
                added.problems.push(*problem);
                continue;
            }
            if !shops.contains(&job.shop) {
                shops.push(job.shop.clone());
            }
            if job.month == OPEN { open.push(job) } else { closed.push(job) }
        }
        added.closed += closed.len() as u64;
        replaced.extend(write(closed, into, &mut list, &mut added)?);
    }
    added.open = open.len() as u64;
    let is_old = |batch: &Batch| batch.month == OPEN && shops.contains(&batch.shop);
    let (mut old, kept): (Vec<_>, Vec<_>) = std::mem::take(&mut list.batches).into_iter().partition(is_old);
    list.batches = kept;
    old.extend(replaced);
    write(open, into, &mut list, &mut added)?;
    list.batches
        .sort_by(|one, other| (&one.shop, &one.month, &one.name).cmp(&(&other.shop, &other.month, &other.name)));
    list.write(into)?;
    for batch in old.iter().filter(|batch| !list.batches.contains(batch)) {
        // One that stays is a stray, and said to be one.
        batch.tables.keys().for_each(|table| drop(fs::remove_file(into.join(batch.path(table)))));
    }
    list.strays(into, &mut added.problems);
    Ok(added)
}

fn unwritten(path: &Path, fault: &std::io::Error) -> Box<Diagnostic> {
    Box::new(about(path, Code::Unwritable, format!("`{}` can't be written: {fault}", path.display())))
}

/// In the order of the folders.
fn jobs(seen: &[Seen], keys: &[Key], with_words: bool) -> Vec<Result<Job, Problems>> {
    on_all_cores(seen.len(), Kept::default, |plans, index| {
        let one = &seen[index];
        let mut read = || read(&one.folder, &keys[one.source], with_words, plans);
        let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(&mut read));
        done.unwrap_or_else(|_| {
            *plans = Kept::default();
            let message = format!("a defect of this program ended what was done for {}", one.folder.display());
            Err(vec![about(&one.folder, Code::UnreadableFile, message)])
        })
    })
}

/// Whether the jobs of this shop are those that the archive knows by its id.
fn registered(list: &mut List, shop: &str, key: &Key, folder: &Path) -> Result<(), Box<Diagnostic>> {
    let token = key.name(shop, "shop", "");
    let known = list.shops.entry(shop.to_owned()).or_insert_with(|| token.clone());
    if *known == token {
        return Ok(());
    }
    let message = format!("another workshop is in the archive as `{shop}`: its key is not the one beside these jobs");
    let help =
        "give the shop file of one of them another id; or, if it is the same workshop, put its `archive.key` back";
    Err(Box::new(about(folder, Code::DefinedTwice, message).help(help)))
}

/// What is in the archive, by shop and month as far as it was needed.
#[derive(Default)]
struct Known(IndexMap<String, String>);

impl Known {
    /// The journals that are to be read as a whole, by month.
    fn new_ones(&mut self, sources: &[Source], list: &mut List, into: &Path, added: &mut Added) -> Vec<Seen> {
        let mut all = Vec::new();
        for (source, Source { folders, .. }) in sources.iter().enumerate() {
            all.extend(folders.iter().map(|folder| (source, folder)));
        }
        let looks = on_all_cores(all.len(), || (), |(), index| look(all[index].1, all[index].0));
        let mut seen: IndexMap<String, Seen> = IndexMap::new();
        for (look, (_, folder)) in looks.into_iter().zip(&all) {
            let look = match look {
                Ok(look) => look,
                Err(why) => {
                    added.left_aside += 1;
                    let message = format!("the journal in `{}` can't be read: {why}", folder.display());
                    added.problems.push(about(folder, Code::BrokenJournal, message));
                    continue;
                }
            };
            match seen.get(&look.key) {
                None => {
                    seen.insert(look.key.clone(), look);
                }
                Some(other) if other.head == look.head => added.known += 1,
                Some(other) => {
                    added.left_aside += 1;
                    match () {
                        () if goes_on(&look.folder, &other.head) => {
                            added.problems.push(older(&other.folder, &look.folder));
                            seen.insert(look.key.clone(), look);
                        }
                        () if goes_on(&other.folder, &look.head) => {
                            added.problems.push(older(&look.folder, &other.folder));
                        }
                        () => added.problems.push(parted(&look.folder, &other.folder.display().to_string())),
                    }
                }
            }
        }
        self.read(list, into, &seen, &mut added.problems);
        let mut new: Vec<Seen> = Vec::new();
        for (_, look) in seen {
            match self.0.get(&look.key) {
                None => new.push(look),
                Some(head) if *head == look.head => added.known += 1,
                Some(_) => {
                    added.left_aside += 1;
                    added.problems.push(parted(&look.folder, "the archive, where it is closed"));
                }
            }
        }
        new.sort_by(|one, other| (&one.month, &one.key).cmp(&(&other.month, &other.key)));
        new
    }

    /// Reads what the archive has of the months that the journals are of.
    fn read(&mut self, list: &mut List, into: &Path, seen: &IndexMap<String, Seen>, problems: &mut Problems) {
        let months: std::collections::HashSet<&str> = seen.values().map(|look| look.month.as_str()).collect();
        list.batches.retain(|batch| {
            if batch.month == OPEN || !months.contains(batch.month.as_str()) {
                return true;
            }
            match batch.read(into, "jobs", ["job_key", "head"]) {
                Ok(rows) => {
                    self.0.extend(rows.into_iter().map(|[key, head]| (key.into_text(), head.into_text())));
                    true
                }
                Err(why) => {
                    problems.push(taken_out(unread(&into.join(batch.path("jobs")), why), batch));
                    false
                }
            }
        });
    }
}

/// The first and the last line. A line that was never finished is none.
fn look(folder: &Path, source: usize) -> Result<Seen, String> {
    #[derive(Deserialize)]
    struct First {
        at: String,
    }
    let bytes = standpipe_disk::bytes(&folder.join(LINES), LARGEST_JOURNAL).map_err(|fault| fault.to_string())?;
    let end = bytes.iter().rposition(|byte| *byte == b'\n').ok_or("it has no complete line")?;
    let mut lines = bytes[..end].split(|byte| *byte == b'\n');
    let first = lines.next().unwrap_or_default();
    let last = lines.next_back().unwrap_or(first);
    let says: First = serde_json::from_slice(first).map_err(|fault| fault.to_string())?;
    let month = says.at.get(..7).unwrap_or_default().to_owned();
    Ok(Seen { folder: folder.to_owned(), source, month, key: key_of(&sha256(first)), head: sha256(last) })
}

/// Whether a line of this journal follows the one with that hash.
fn goes_on(folder: &Path, head: &str) -> bool {
    let after = format!("{{\"prev\":\"{head}\"");
    standpipe_disk::bytes(&folder.join(LINES), LARGEST_JOURNAL)
        .is_ok_and(|bytes| bytes.split(|byte| *byte == b'\n').any(|line| line.starts_with(after.as_bytes())))
}

fn older(folder: &Path, newer: &Path) -> Diagnostic {
    let message = format!("the job in `{}` goes on in `{}`", folder.display(), newer.display());
    let mut note = about(folder, Code::BrokenJournal, message).help("the one that goes on was taken");
    note.severity = standpipe_diagnostic::Severity::Note;
    note
}

fn parted(folder: &Path, other: &str) -> Diagnostic {
    let message = format!("the job in `{}` is that of {other}, yet neither goes on from the other", folder.display());
    about(folder, Code::BrokenJournal, message)
        .help("`standpipe audit` on both: one of them was changed after they parted")
}

/// Returns batches whose jobs were written anew together with these, and which are in the list no more.
fn write(jobs: Vec<Job>, into: &Path, list: &mut List, added: &mut Added) -> Result<Vec<Batch>, Box<Diagnostic>> {
    let mut parts: IndexMap<(String, String), Vec<Job>> = IndexMap::new();
    for job in jobs {
        parts.entry((job.shop.clone(), job.month.clone())).or_default().push(job);
    }
    let mut replaced = Vec::new();
    for ((shop, month), mut jobs) in parts {
        let is_few =
            |batch: &Batch| (&batch.shop, &batch.month) == (&shop, &month) && month != OPEN && batch.jobs < FEW;
        let mut count = jobs.len() as u64;
        let mut all: [Vec<Row>; TABLES.len()] = Default::default();
        for batch in list.batches.iter().filter(|batch| is_few(batch)) {
            // One that can't be read stays as it is: it is said where it is looked for.
            let Ok(rows) = rows_of(batch, into) else { continue };
            all.iter_mut().zip(rows).for_each(|(all, rows)| all.extend(rows));
            count += batch.jobs;
            replaced.push(batch.clone());
        }
        list.batches.retain(|batch| !replaced.contains(batch));
        let mut files = Vec::new();
        for (index, table) in TABLES.iter().enumerate() {
            let new = jobs.iter_mut().flat_map(|job| std::mem::take(&mut job.rows[index]));
            let before = std::mem::take(&mut all[index]);
            let was = before.len() as u64;
            let mut rows: Vec<Row> = before.into_iter().chain(new).collect();
            // By job; within one they are in their order.
            rows.sort_by(|one, other| one[0].text().cmp(&other[0].text()));
            let bytes =
                columns::written(table, &rows).map_err(|fault| unwritten(into, &std::io::Error::other(fault)))?;
            let columns = Columns { rows: rows.len() as u64, bytes: bytes.len() as u64, sha256: sha256(&bytes) };
            *added.rows.entry(table.name).or_default() += columns.rows - was;
            files.push((table.name, columns, bytes));
        }
        let hashes: String = files.iter().map(|(_, columns, _)| columns.sha256.as_str()).collect();
        let name = key_of(&sha256(hashes.as_bytes()));
        let mut batch = Batch { shop, month, name, jobs: count, tables: IndexMap::new() };
        for (table, columns, bytes) in files {
            let path = into.join(batch.path(table));
            let folder = path.parent().unwrap_or(into);
            fs::create_dir_all(folder).map_err(|fault| unwritten(folder, &fault))?;
            standpipe_disk::whole(&path, &bytes).map_err(|fault| unwritten(&path, &fault))?;
            added.bytes += columns.bytes;
            batch.tables.insert(table.to_owned(), columns);
        }
        list.batches
            .retain(|known| (&known.shop, &known.month, &known.name) != (&batch.shop, &batch.month, &batch.name));
        list.batches.push(batch);
    }
    Ok(replaced)
}

fn rows_of(batch: &Batch, archive: &Path) -> Result<Vec<Vec<Row>>, columns::Unread> {
    let rows = |table: &Table| {
        let columns: Vec<&str> = table.columns().map(|column| column.name).collect();
        batch.rows(archive, table.name, &columns)
    };
    TABLES.iter().map(rows).collect()
}
