//! The journal of a job: a folder with the plan, the events, and the evidence they name.
//!
//! Events are kept in batches: all that one input led to is there after a crash, or none of it. A batch is on the disk
//! before [`Journal::append`] returns. What is there is never rewritten.

mod apart;
mod below;
mod chain;
pub mod evidence;
mod files;
mod folder;
mod last;
mod left_out;
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
pub use left_out::LeftOut;
pub use recover::moved_aside;

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::edition;
use super::event::{Event, Record};
use super::open::{InputId, Via};
use super::plan::{Plan, PlanText, Private};
use standpipe_apart::{Opening, Sealer, Values};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

pub const LINES: &str = "journal.jsonl";
pub const PLAN: &str = "plan.json";
/// Texts of people, where the journal has tokens.
pub const TEXTS_APART: &str = standpipe_apart::FILE;

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
    /// Of a format that keeps texts apart.
    sealer: Option<Sealer>,
    /// Which of them, by the plan that it goes on by.
    private: Option<Private>,
    _lock: standpipe_disk::Held,
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
    /// Texts that are kept apart: what is there of them. The events have them in their places.
    pub apart: Arc<Opening>,
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

    /// What is wrong with the texts that are kept apart.
    pub fn apart_problems(&self, dir: &Path) -> Problems {
        let path = dir.join(standpipe_apart::FILE);
        let problem = |fault: &standpipe_apart::Fault| {
            let message = match fault.line {
                0 => fault.message.clone(),
                line => format!("line {line} of `{}` does not hold: {}", path.display(), fault.message),
            };
            Diagnostic::error(Code::BrokenJournal, &folder::place_of(&path), message)
                .help("put the file back from a copy of the folder, or take the line out: its text is left out then")
        };
        self.apart.faults.iter().map(problem).collect()
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
    /// hash of the plan's own text, which names the others: texts of people are put aside first, so it is another one than before.
    pub fn create(dir: &Path, plan: &mut Plan) -> Result<Self, Box<Diagnostic>> {
        if !edition::keeps_apart(&plan.snapshot.schema) {
            return Self::create_as(dir, &plan.snapshot.json(), &plan.snapshot.texts_json(), None);
        }
        let mut sealer = Sealer::new(dir);
        plan.keep_apart(&mut sealer).map_err(|fault| {
            let message = format!("the job can't be kept: {fault}");
            Box::new(Diagnostic::error(Code::FaultyJob, &Place::whole(&plan.snapshot.job.source()), message))
        })?;
        let mut journal = Self::create_as(dir, &plan.snapshot.json(), &plan.snapshot.texts_json(), Some(sealer))?;
        journal.private = Some(Private::of(plan));
        Ok(journal)
    }

    fn create_as(dir: &Path, plan: &str, texts: &str, mut sealer: Option<Sealer>) -> Result<Self, Box<Diagnostic>> {
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
        // What others are found by has to be there before them.
        sealer
            .as_mut()
            .map_or(Ok(()), Sealer::write)
            .and_then(|()| texts::keep(dir, texts))
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
            sealer,
            private: None,
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
        let faults = contents.apart_problems(dir);
        if !faults.is_empty() {
            return Err(faults);
        }
        let sealer = keeps_apart(&contents.plan.plan).then(|| Sealer::with(dir, &Values::read(dir)));
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
            sealer,
            private: None,
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
        let sealed = self.sealed(batch)?;
        let batch = sealed.as_deref().unwrap_or(batch);
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

    /// Makes events what they read back as.
    pub(crate) fn as_read(&self, records: &mut [Record]) {
        if let Some(private) = &self.private {
            records.iter_mut().for_each(|record| apart::as_read(record, private));
        }
    }

    /// Which texts are kept apart from here on, by the plan that the job goes on by.
    pub(crate) fn keeps_apart(&mut self, plan: &Plan) {
        self.private = Some(Private::of(plan));
    }

    /// A batch as it is written where texts are kept apart, which are on the disk then; none where it is written as it is.
    fn sealed(&mut self, batch: &[Record]) -> Result<Option<Vec<Record>>, Box<Diagnostic>> {
        let Some(sealer) = &mut self.sealer else { return Ok(None) };
        let mut batch = batch.to_vec();
        let private = self.private.as_ref();
        let sealed = batch.iter_mut().try_for_each(|record| apart::seal(record, private, sealer));
        let path = self.dir.join(standpipe_apart::FILE);
        sealed.map_err(|fault| {
            let message = format!("this entry can't be recorded: {fault}");
            let problem = Diagnostic::error(Code::BrokenJournal, &folder::place_of(&path), message);
            Box::new(
                problem.help("put it in other words; nothing of this entry was recorded, and what came before is safe"),
            )
        })?;
        let written = sealer.write();
        written.map_err(|fault| self.unrecorded(&path, &fault))?;
        Ok(Some(batch))
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

fn keeps_apart(plan: &str) -> bool {
    edition::schema_of(plan).is_some_and(|schema| edition::keeps_apart(&schema))
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
    let mut scan = scan::scan(&bytes, &plan_hash);
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
    let mut later = texts::later(dir, &scan.records);
    let mut apart = Arc::default();
    let mut plan = plan;
    if keeps_apart(&plan.plan) {
        apart = Arc::new(Opening::new(&Values::read(dir), [plan.plan.as_bytes(), &bytes]));
        scan.records.iter_mut().for_each(|record| apart::open(record, &apart));
        plan.opening = apart.clone();
        later.iter_mut().filter_map(|later| later.text.as_mut().ok()).for_each(|text| text.opening = apart.clone());
    }
    let contents = Contents {
        plan,
        apart,
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

fn line_of(source: &Arc<Source>, line: usize) -> Place {
    let start: usize = source.text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let length = source.text[start..].find('\n').unwrap_or(source.text.len() - start);
    Place::new(source, start..start + length)
}
