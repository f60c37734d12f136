//! The journal of a job: a folder with the plan, the events, and the evidence they name.
//!
//! Events are kept in batches: all that one input led to is there after a crash, or none of it. A batch is on the disk
//! before [`Journal::append`] returns. What is there is never rewritten.

mod below;
mod chain;
pub mod evidence;
mod files;
mod folder;
mod last;
mod lock;
mod recover;
mod scan;
mod strict;
mod texts;

#[cfg(test)]
mod tests;

pub use below::below;
pub use files::files;
pub use last::finished_at;
pub use recover::moved_aside;

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::edition;
use super::event::{Event, Record};
use super::open::{InputId, Via};
use super::plan::PlanText;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

pub const LINES: &str = "journal.jsonl";
pub const PLAN: &str = "plan.json";

/// A journal of years of work has a few MiB; more is not a journal.
pub const LARGEST_JOURNAL: u64 = 256 << 20;
pub const LARGEST_PLAN: u64 = 64 << 20;

/// A journal that is being written. As long as it lives, no other process writes to it.
#[derive(Debug)]
pub struct Journal {
    dir: PathBuf,
    file: File,
    length: u64,
    /// Number of the last event.
    seq: u64,
    /// Hash of the last line.
    last: String,
    /// Over all bytes so far.
    sum: Sha256,
    /// Something went wrong that leaves the end of the file in doubt.
    broken: bool,
    _lock: lock::Lock,
}

/// What stands in a journal.
#[derive(Debug)]
pub struct Contents {
    pub plan: PlanText,
    /// SHA-256 of the plan's text, as the `opened` event names it.
    pub plan_hash: String,
    /// Plans with corrected data that it went on by, in their order.
    pub later: Vec<LaterPlan>,
    /// The events that can be relied on: up to the first fault, whole batches only.
    pub records: Vec<Record>,
    /// Number of the last event of each batch.
    pub ends: Vec<u64>,
    /// Ids that inputs were given, with the number of the first event of what they led to.
    pub ids: Vec<(InputId, u64)>,
    /// Devices of inputs, in the same way.
    pub vias: Vec<(Via, u64)>,
    /// SHA-256 of the first line: no other journal has it.
    pub first: String,
    /// SHA-256 of the last line of whole batches; of the plan, if there is none.
    pub head: String,
    /// SHA-256 of each line without its line feed, those after a fault among them: each covers all lines before it, and the plan.
    pub heads: Vec<String>,
    /// SHA-256 over all bytes of whole batches: the seal of a closed journal.
    pub seal: String,
    /// Errors if the chain is broken, notes otherwise.
    pub problems: Problems,
}

/// A plan that a job went on by from an event on.
#[derive(Debug)]
pub struct LaterPlan {
    /// Number of the event that names it.
    pub seq: u64,
    pub hash: String,
    /// Or why it is not there.
    pub text: Result<PlanText, Box<Diagnostic>>,
}

impl Contents {
    /// The plan that the job stands by now.
    ///
    /// Errors: it is gone, or was changed.
    pub fn current(&self) -> Result<&PlanText, Box<Diagnostic>> {
        self.later.last().map_or(Ok(&self.plan), |later| later.text.as_ref().map_err(Clone::clone))
    }

    pub fn current_hash(&self) -> &str {
        self.later.last().map_or(&self.plan_hash, |later| &later.hash)
    }
}

/// A journal that goes on.
#[derive(Debug)]
pub struct Reopened {
    pub journal: Journal,
    pub contents: Contents,
}

impl Journal {
    /// Is there a journal in this folder, begun at least?
    pub fn is_in(dir: &Path) -> bool {
        dir.join(PLAN).exists() || fs::metadata(dir.join(LINES)).is_ok_and(|meta| meta.len() > 0)
    }

    /// Makes the folder, if need be, and writes the plan and its texts into it. The first event to append is `opened`, with the
    /// hash of the plan's own text, which names the others.
    pub fn create(dir: &Path, plan: &str, texts: &str) -> Result<Self, Box<Diagnostic>> {
        fs::create_dir_all(dir).map_err(|fault| folder::unwritten(dir, &fault))?;
        let lock = lock::lock(dir)?;
        if Self::is_in(dir) {
            let message = format!("there is a journal in `{}` already", dir.display());
            return Err(Diagnostic::error(Code::BrokenJournal, &folder::place_of(dir), message)
                .expected("a folder without a journal")
                .help("go on with that one, or name another folder with `--journal DIR`")
                .into());
        }
        // The plan comes last: a folder that has it has a journal, and one that lacks its journal has lost it.
        let lines = dir.join(LINES);
        let file = open_lines(&lines, true).map_err(|fault| folder::unwritten(&lines, &fault))?;
        let path = dir.join(PLAN);
        texts::keep(dir, texts)
            .and_then(|()| standpipe_disk::whole(&path, plan.as_bytes()))
            .and_then(|()| standpipe_disk::sync(dir.parent().unwrap_or(Path::new("."))))
            .map_err(|fault| folder::unwritten(&path, &fault))?;
        Ok(Self {
            dir: dir.to_owned(),
            file,
            length: 0,
            seq: 0,
            last: chain::hash(plan.as_bytes()),
            sum: Sha256::new(),
            broken: false,
            _lock: lock,
        })
    }

    /// Opens a journal to go on with it. What an interrupted write left at its end is moved aside first.
    ///
    /// Errors: a journal that does not hold, or is in use, or of a newer version, or can't be written; nothing is changed
    /// then.
    pub fn open(dir: &Path) -> Result<Reopened, Problems> {
        // Before anything is made in a folder that may not be one.
        let plan = read_plan(dir).map_err(|problem| vec![*problem])?;
        let lock = lock::lock(dir).map_err(|problem| vec![*problem])?;
        let (mut contents, bytes, sound) = read_lines(dir, plan).map_err(|problem| vec![*problem])?;
        if contents.problems.iter().any(Diagnostic::is_error) {
            return Err(contents.problems);
        }
        let lines = dir.join(LINES);
        if let Some(Event::Opened { interpreter, .. }) = contents.records.first().map(|record| &record.event) {
            edition::refuse_other_interpreter(interpreter, &lines).map_err(|problem| vec![*problem])?;
        }
        let unwritten = |path: &Path, fault: &io::Error| vec![*folder::unwritten(path, fault)];
        let file = open_lines(&lines, false).map_err(|fault| unwritten(&lines, &fault))?;
        if sound < bytes.len() {
            recover::move_aside(dir, &file, &bytes, sound).map_err(|(path, fault)| unwritten(&path, &fault))?;
        }
        let mut journal = Self {
            dir: dir.to_owned(),
            file,
            length: sound as u64,
            seq: contents.records.last().map_or(0, |record| record.seq),
            last: last_hash(&bytes[..sound], &contents.plan_hash),
            sum: Sha256::new_with_prefix(&bytes[..sound]),
            broken: false,
            _lock: lock,
        };
        let recovered = recover::events(dir, &contents.records);
        if !recovered.is_empty() {
            journal.append(&recovered).map_err(|problem| vec![*problem])?;
            contents.ends.push(journal.seq);
            contents.records.extend(recovered);
            contents.seal = journal.seal();
        }
        Ok(Reopened { journal, contents })
    }

    /// Reads a journal, whether somebody writes to it or not.
    ///
    /// Errors: a folder without a journal, files that can't be read, or a newer version's. A broken chain is among the problems of the
    /// contents instead, with the events before it.
    pub fn read(dir: &Path) -> Result<Contents, Box<Diagnostic>> {
        let (contents, _, _) = read_lines(dir, read_plan(dir)?)?;
        Ok(contents)
    }

    /// Records what one input led to, all of it or nothing. Returns when it is on the disk.
    ///
    /// Errors: nothing of the batch is recorded, what was recorded before is safe.
    pub fn append(&mut self, batch: &[Record]) -> Result<(), Box<Diagnostic>> {
        self.append_from(None, None, batch)
    }

    /// As [`Journal::append`], with the id of the input, so that the same input is known again when it comes a second time,
    /// and the device that it came from.
    pub fn append_from(
        &mut self,
        id: Option<InputId>,
        via: Option<&Via>,
        batch: &[Record],
    ) -> Result<(), Box<Diagnostic>> {
        if batch.is_empty() {
            return Ok(());
        }
        let path = self.dir.join(LINES);
        if self.broken {
            return Err(self.doubt("an earlier write failed"));
        }
        let (bytes, last) = self.lines(id, via, batch)?;
        // By its path: the file may have been changed, moved or deleted under the job.
        match fs::metadata(&path) {
            Ok(meta) if meta.len() == self.length => {}
            Ok(_) => return Err(self.doubt("something else wrote to it")),
            Err(fault) => return Err(self.doubt(&fault.to_string())),
        }
        if let Err(fault) = self.file.write_all(&bytes) {
            // What was written of it must not stay in the way of a second try.
            self.broken = self.file.set_len(self.length).and_then(|()| self.file.sync_data()).is_err();
            return Err(self.unrecorded(&path, &fault));
        }
        if let Err(fault) = self.file.sync_data() {
            // After a failed sync nobody knows what is on the disk; only reading it again tells.
            self.broken = true;
            let _ = self.file.set_len(self.length);
            return Err(self.unrecorded(&path, &fault));
        }
        self.sum.update(&bytes);
        self.length += bytes.len() as u64;
        self.seq += batch.len() as u64;
        self.last = last;
        Ok(())
    }

    /// Keeps a plan that the job is to go on by; only then may an event name it.
    pub fn keep_plan(&self, plan: &PlanText) -> Result<(), Box<Diagnostic>> {
        texts::keep_plan(&self.dir, plan).map_err(|fault| folder::unwritten(&self.dir, &fault))
    }

    /// SHA-256 over the whole journal. Printed when the job is closed; whoever holds the print can tell any later change.
    pub fn seal(&self) -> String {
        format!("{:x}", self.sum.clone().finalize())
    }

    /// SHA-256 of the last line, without its line feed.
    pub fn head(&self) -> &str {
        &self.last
    }

    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The lines of a batch, and the hash of the last of them.
    fn lines(
        &self,
        id: Option<InputId>,
        via: Option<&Via>,
        batch: &[Record],
    ) -> Result<(Vec<u8>, String), Box<Diagnostic>> {
        let (mut bytes, mut last) = (Vec::new(), self.last.clone());
        for (index, record) in batch.iter().enumerate() {
            let seq = self.seq + 1 + index as u64;
            let line = if record.seq == seq {
                let (id, via) = if index == 0 { (id, via) } else { (None, None) };
                chain::encode(&last, id, via, record, index + 1 == batch.len())
            } else {
                Err(format!("it has the number {}, and {seq} comes next", record.seq))
            };
            let line = line.map_err(|fault| {
                let message = format!("event {} can't be recorded: {fault}", record.seq);
                let problem = Diagnostic::error(Code::BrokenJournal, &folder::place_of(&self.dir.join(LINES)), message);
                Box::new(problem.help("nothing of this entry was recorded; what came before is safe"))
            })?;
            last = chain::hash(line.as_bytes());
            bytes.extend_from_slice(line.as_bytes());
            bytes.push(b'\n');
        }
        Ok((bytes, last))
    }

    fn doubt(&self, what: &str) -> Box<Diagnostic> {
        let message = format!("the journal `{}` can't go on: {what}", self.dir.display());
        let problem = Diagnostic::error(Code::BrokenJournal, &folder::place_of(&self.dir.join(LINES)), message)
            .expected(format!("a journal of {} events, {} bytes", self.seq, self.length));
        Box::new(problem.help("run the job again: it goes on after the last entry that was recorded"))
    }

    fn unrecorded(&self, path: &Path, fault: &io::Error) -> Box<Diagnostic> {
        let mut problem = folder::unwritten(path, fault);
        problem.message = format!("{}; this entry was not recorded, all before it is safe", problem.message);
        problem
    }
}

fn open_lines(path: &Path, new: bool) -> io::Result<File> {
    standpipe_disk::append(path, new)
}

fn last_hash(lines: &[u8], plan: &str) -> String {
    let lines = lines.strip_suffix(b"\n").unwrap_or(lines);
    match lines.rsplit(|byte| *byte == b'\n').next() {
        None | Some([]) => plan.to_owned(),
        Some(last) => chain::hash(last),
    }
}

fn read_plan(dir: &Path) -> Result<PlanText, Box<Diagnostic>> {
    let path = dir.join(PLAN);
    if !Journal::is_in(dir) {
        let message = format!("there is no journal in `{}`", dir.display());
        return Err(Diagnostic::error(Code::UnreadableFile, &folder::place_of(dir), message)
            .expected(format!("a folder with `{PLAN}` and `{LINES}`"))
            .help("check the path; `run JOB.yaml` begins a journal")
            .into());
    }
    let plan = String::from_utf8(folder::read(&path, LARGEST_PLAN)?).map_err(|_| {
        let message = format!("`{}` is not text: it was changed after it was written", path.display());
        let problem = Diagnostic::error(Code::BrokenJournal, &folder::place_of(&path), message);
        Box::new(problem.help("put the file back from a copy of the folder"))
    })?;
    edition::refuse_newer_plan(&plan, &path)?;
    Ok(texts::with(dir, plan))
}

/// The contents, all bytes of the journal, and how many of them are sound.
fn read_lines(dir: &Path, plan: PlanText) -> Result<(Contents, Vec<u8>, usize), Box<Diagnostic>> {
    let path = dir.join(LINES);
    let bytes = folder::read(&path, LARGEST_JOURNAL)?;
    let first = bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
    edition::refuse_newer_journal(first, &path)?;
    let first = chain::hash(first);
    let plan_hash = chain::hash(plan.plan.as_bytes());
    let scan = scan::scan(&bytes, &plan_hash);
    let mut problems = Problems::new();
    if !scan.faults.is_empty() {
        let source = Source::new(path.display().to_string(), String::from_utf8_lossy(&bytes));
        for fault in scan.faults {
            problems.push(
                Diagnostic::error(Code::BrokenJournal, &line_of(&source, fault.line), fault.message)
                    .label(format!("found {}", fault.found))
                    .expected(fault.expected)
                    .help("compare with a copy of the folder; the events before this line hold, nothing was changed"),
            );
        }
    } else if scan.sound < bytes.len() {
        let message = format!(
            "the last {} bytes of `{}` are an entry that was not finished",
            bytes.len() - scan.sound,
            path.display()
        );
        let mut note = Diagnostic::warning(Code::BrokenJournal, &folder::place_of(&path), message)
            .help("`run` moves them aside and goes on after the last whole entry");
        note.severity = standpipe_diagnostic::Severity::Note;
        problems.push(note);
    }
    let seal = chain::hash(&bytes[..scan.sound]);
    let later = texts::later(dir, &scan.records);
    let contents = Contents {
        plan,
        plan_hash,
        later,
        records: scan.records,
        ends: scan.ends,
        ids: scan.ids,
        vias: scan.vias,
        first,
        head: scan.last,
        heads: scan.heads,
        seal,
        problems,
    };
    Ok((contents, bytes, scan.sound))
}

fn line_of(source: &std::sync::Arc<Source>, line: usize) -> Place {
    let start: usize = source.text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let length = source.text[start..].find('\n').unwrap_or(source.text.len() - start);
    Place::new(source, start..start + length)
}
