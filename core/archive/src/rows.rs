//! The rows of one job.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use indexmap::IndexMap;
use serde::Serialize;
use serde_json::Value as Json;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::journal::{Contents, Journal, LINES, PLAN};
use standpipe_job::plan::{Kept, Plan};
use standpipe_job::replay::{entered, replay};
use standpipe_job::{Address, Event, Moment, Origin, Record, State, Witness};
use standpipe_quantity::value::Value;
use standpipe_yaml as yaml;

use crate::cell::{Cell, Row, parts};
use crate::hide::Hide;
use crate::key::Key;
use crate::table::TABLES;

/// A job as rows of each table.
pub struct Job {
    /// Id of the shop; empty for none.
    pub shop: String,
    /// `2026-11`; or `open`.
    pub month: String,
    /// In the order of [`TABLES`].
    pub rows: [Vec<Row>; TABLES.len()],
}

/// What is known of a journal before it is read as a whole.
pub fn key_of(first: &str) -> String {
    first.get(..32).unwrap_or(first).to_owned()
}

/// No clock that was ever set shows less, and no month of it would be one of work.
const FIRST_YEAR: i16 = 2000;

/// What month is called while a job is not closed.
pub const OPEN: &str = "open";

/// Reads the job of a folder.
///
/// Errors: it can't be read, does not hold, or was opened by a clock that was never set.
pub fn read(folder: &Path, key: &Key, with_words: bool, plans: &mut Kept) -> Result<Job, Problems> {
    let contents = Journal::read(folder).map_err(|fault| vec![*fault])?;
    if contents.problems.iter().any(Diagnostic::is_error) {
        return Err(contents.problems);
    }
    let lines = folder.join(LINES);
    let about = |message: String| {
        let place = Place::whole(&Source::new(lines.display().to_string(), ""));
        vec![Diagnostic::error(Code::BrokenJournal, &place, message)]
    };
    let Some(opened) = contents.records.first() else { return Err(about("nothing was ever entered in it".to_owned())) };
    if opened.at.date().year() < FIRST_YEAR {
        let message = format!("it was opened on {}, by a clock that was never set", opened.at.date());
        return Err(about(message).into_iter().map(|problem| problem.help("the job belongs to no month")).collect());
    }
    let text = contents.current().map_err(|fault| vec![*fault])?;
    let plan = plans.plan(text, &folder.join(PLAN).display().to_string())?;
    Ok(Maker::new(&plan, &contents, key, with_words).job())
}

struct Maker<'a> {
    plan: &'a Plan,
    contents: &'a Contents,
    state: State,
    hide: Hide<'a>,
    key: String,
    simulated: bool,
    sections: HashMap<String, String>,
    /// Readings that counted in the end, by event and name.
    counting: HashSet<(u64, String)>,
    /// Whether a verdict stands, and whether it was accepted.
    passed: HashMap<u64, (bool, bool)>,
    rows: [Vec<Row>; TABLES.len()],
}

impl<'a> Maker<'a> {
    fn new(plan: &'a Plan, contents: &'a Contents, key: &'a Key, with_words: bool) -> Self {
        let state = replay(&contents.records);
        let counts = |reading: &&standpipe_job::state::Reading| {
            reading.counts && !reading.rejected && !reading.ended && !reading.computed
        };
        let counting =
            state.readings.iter().filter(counts).map(|reading| (reading.seq, reading.name.clone())).collect();
        let passed = state.verdicts.iter().map(|passed| (passed.seq, (!passed.superseded, passed.accepted))).collect();
        Self {
            plan,
            contents,
            state,
            passed,
            hide: Hide::new(plan, contents, key, with_words),
            key: key_of(&contents.first),
            simulated: plan.simulated().is_some(),
            sections: HashMap::new(),
            counting,
            rows: Default::default(),
        }
    }

    fn job(mut self) -> Job {
        let mut before: Option<Moment> = None;
        for record in &self.contents.records {
            self.entry(record, before);
            self.values(record);
            before = Some(entered(record));
        }
        let closed = !self.state.is_open();
        let row = self.of_job(closed);
        self.rows[0].push(row);
        let month = match (closed, self.contents.records.first()) {
            (true, Some(opened)) => opened.at.strftime("%Y-%m"),
            _ => OPEN.to_owned(),
        };
        Job { shop: self.plan.shop.id.clone(), month, rows: self.rows }
    }

    fn of_job(&self, closed: bool) -> Row {
        let (plan, contents) = (self.plan, self.contents);
        let records = &contents.records;
        let (first, last) = (&records[0], &records[records.len() - 1]);
        let (tool, interpreter) = match &first.event {
            Event::Opened { tool, interpreter, .. } => (tool.as_str(), interpreter.as_str()),
            _ => ("", ""),
        };
        let subject = plan.subject(&self.state.supplied);
        let headless = records.iter().any(|record| record.origin == Origin::Answers);
        let variant = self.state.variant.as_ref().or(plan.job.variant.as_ref());
        vec![
            self.key.clone().into(),
            self.simulated.into(),
            contents.first.clone().into(),
            contents.head.clone().into(),
            closed.then(|| contents.seal.clone()).into(),
            contents.plan_hash.clone().into(),
            plan.snapshot.texts.clone().into(),
            plan.job.id.clone().into(),
            plan.form.id.clone().into(),
            plan.family.id.clone().into(),
            variant.cloned().into(),
            plan.procedure.clone().into(),
            version(plan).into(),
            self.state.phase.words().into(),
            time(first.at),
            Cell::Whole(day(first.at)),
            time(entered(last)),
            Cell::Whole(first.at.minutes_ahead().into()),
            (records.len() as u64).into(),
            tool.into(),
            interpreter.into(),
            plan.invented.into(),
            headless.into(),
            self.hide.subject(&subject).into(),
            plan.job.follows.clone().into(),
        ]
    }

    fn event(&self, record: &Record) -> Row {
        vec![self.key.clone().into(), self.simulated.into(), record.seq.into()]
    }

    fn place(&self, record: &Record, address: Option<&Address>) -> Row {
        let mut row = self.event(record);
        let Some(address) = address else {
            row.extend([Cell::Empty, Cell::Empty, Cell::Empty, Cell::Empty]);
            return row;
        };
        let rounds: Vec<String> = address.rounds.iter().map(u32::to_string).collect();
        row.push(address.step.clone().into());
        row.push((!rounds.is_empty()).then(|| rounds.join(".")).into());
        row.push(address.rounds.last().map(|round| u64::from(*round)).into());
        row.push((!address.item.is_empty()).then(|| self.hide.item(&address.item)).into());
        row
    }

    fn entry(&mut self, record: &Record, before: Option<Moment>) {
        let address = address(&record.event);
        let done = if let Event::Entered { done, .. } = &record.event { Some(*done) } else { None };
        let corrects = if let Event::Corrected { entry, .. } = &record.event { Some(*entry) } else { None };
        let witness = match &record.event {
            Event::Entered { witness: Some(Witness::By(person)), .. } => Some(self.hide.person(person)),
            Event::Entered { witness: Some(Witness::Alone), .. } => Some("alone".to_owned()),
            _ => None,
        };
        let section = address.map(|address| self.section(&address.step));
        let words = words(&record.event).filter(|_| self.hide.with_words);
        let mut row = self.place(record, address);
        row.extend([
            time(record.at),
            time(entered(record)),
            Cell::Whole(record.at.minutes_ahead().into()),
            before.map(|before| entered(record).duration_since(before).as_secs_f64()).into(),
            (!record.by.is_empty()).then(|| self.hide.person(&record.by)).into(),
            word(&record.origin).into(),
            word(&record.event).into(),
            section.into(),
            done.map_or(Cell::Empty, Cell::Truth),
            corrects.into(),
            witness.into(),
            words.map(str::to_owned).into(),
        ]);
        self.rows[1].push(row);
    }

    fn section(&mut self, step: &str) -> String {
        if let Some(section) = self.sections.get(step) {
            return section.clone();
        }
        let plan = self.plan;
        let section = match plan.section_of(step) {
            Some(number) => plan.sections()[number].id.value.clone(),
            None => plan.procedure_of(step).map(|procedure| procedure.id.value.clone()).unwrap_or_default(),
        };
        self.sections.insert(step.to_owned(), section.clone());
        section
    }

    fn values(&mut self, record: &Record) {
        match &record.event {
            Event::Entered { address, values, with, read, .. } => {
                let from = |name: &str| {
                    let read = read.as_ref().filter(|read| read.values.contains_key(name))?;
                    Some(if read.log { "log" } else { "reader" })
                };
                for (name, value) in values {
                    let counts = self.counting.contains(&(record.seq, name.clone()));
                    let how = How { instrument: with.get(name), from: from(name), corrects: None, counts };
                    self.reading(record, Some(address), name, value, &how);
                }
            }
            Event::Corrected { entry, values, .. } => {
                for (name, value) in values {
                    let how = How { corrects: Some(*entry), ..How::default() };
                    self.reading(record, None, name, value, &how);
                }
            }
            Event::Supplied { path, value, .. } => {
                self.reading(record, None, path, value, &How { counts: true, ..How::default() });
            }
            Event::Stream { address, name, value: Some(value), .. } => {
                let how = How { from: Some("reader"), ..How::default() };
                self.reading(record, address.as_ref(), name, value, &how);
            }
            Event::Recognised { signs, .. } => self.looked_at(record, signs),
            Event::Judged { address, verdict, found, likely, again, supersedes, .. } => {
                let (standing, accepted) = self.passed.get(&record.seq).copied().unwrap_or_default();
                let mut row = self.place(record, Some(address));
                row.extend([
                    verdict.words().into(),
                    (*likely).into(),
                    (*again).into(),
                    standing.into(),
                    accepted.into(),
                    (*supersedes).into(),
                ]);
                self.rows[3].push(row);
                self.looked_at(record, found);
            }
            Event::Settled { address, what, value, .. } => {
                self.computed(record, address, &Made { what, ..Made::default() }, what, value);
            }
            Event::Computed { address, what, gives, sheet, inputs, value, supersedes, .. } => {
                let made = Made {
                    what,
                    gives: gives.as_deref(),
                    sheet: sheet.as_deref(),
                    input: false,
                    supersedes: *supersedes,
                };
                let name = gives.as_deref().unwrap_or(what);
                self.computed(record, address, &made, name, value);
                for (name, value) in inputs {
                    self.computed(record, address, &Made { input: true, ..made }, name, value);
                }
            }
            _ => {}
        }
    }

    fn reading(&mut self, record: &Record, address: Option<&Address>, name: &str, value: &Value, how: &How<'_>) {
        let instrument = how.instrument.and_then(|id| self.plan.shop.instruments.get(id));
        for part in parts(name, value, &self.hide) {
            let error = instrument.zip(part.quantity.as_ref()).and_then(|(instrument, read)| instrument.error_of(read));
            let mut row = self.place(record, address);
            row.extend([
                part.name.clone().into(),
                how.instrument.cloned().into(),
                error.into(),
                how.from.into(),
                how.corrects.into(),
                how.counts.into(),
            ]);
            row.extend(part.cells());
            self.rows[2].push(row);
        }
    }

    fn looked_at(&mut self, record: &Record, found: &IndexMap<String, Value>) {
        for (name, value) in found {
            for part in parts(name, value, &self.hide) {
                let mut row = self.event(record);
                row.push(part.name.clone().into());
                row.extend(part.cells());
                self.rows[4].push(row);
            }
        }
    }

    fn computed(&mut self, record: &Record, address: &Address, made: &Made<'_>, name: &str, value: &Value) {
        for part in parts(name, value, &self.hide) {
            let mut row = self.place(record, Some(address));
            row.extend([
                made.what.into(),
                made.gives.into(),
                made.sheet.into(),
                made.input.into(),
                part.name.clone().into(),
                made.supersedes.into(),
            ]);
            row.extend(part.cells());
            self.rows[5].push(row);
        }
    }
}

#[derive(Default)]
struct How<'a> {
    instrument: Option<&'a String>,
    from: Option<&'a str>,
    corrects: Option<u64>,
    counts: bool,
}

#[derive(Clone, Copy, Default)]
struct Made<'a> {
    what: &'a str,
    gives: Option<&'a str>,
    sheet: Option<&'a str>,
    input: bool,
    supersedes: Option<u64>,
}

/// What the plugin says of itself that the procedure is from; none for one of the texts around it.
fn version(plan: &Plan) -> Option<String> {
    let written = &plan.main().id.place;
    let files = &plan.snapshot.files.list;
    let own = files.iter().find(|file| file.source.name == written.name())?;
    let manifest = files.iter().find(|file| file.plugin == own.plugin && file.path == "plugin.yaml")?;
    let root = yaml::parse(&manifest.source, &mut Problems::new())?;
    root.get("version")?.as_text().map(str::to_owned)
}

fn address(event: &Event) -> Option<&Address> {
    match event {
        Event::Entered { address, .. }
        | Event::Settled { address, .. }
        | Event::Computed { address, .. }
        | Event::Judged { address, .. }
        | Event::RoundEnded { address, .. }
        | Event::Accepted { address, .. }
        | Event::Skipped { address, .. }
        | Event::Blocked { address, .. }
        | Event::Faulted { address, .. }
        | Event::Contradicted { address, .. } => Some(address),
        Event::Called { at_step: address, .. }
        | Event::Noted { address, .. }
        | Event::Attached { address, .. }
        | Event::Stream { address, .. } => address.as_ref(),
        _ => None,
    }
}

/// What somebody wrote as a reason or a note.
fn words(event: &Event) -> Option<&str> {
    match event {
        Event::Accepted { because, .. }
        | Event::Skipped { because, .. }
        | Event::Corrected { because, .. }
        | Event::Amended { because, .. }
        | Event::Abandoned { because, .. } => Some(because),
        Event::Supplied { source, .. } => Some(source),
        Event::Noted { text, .. } => Some(text),
        _ => None,
    }
}

/// The words that the journal has for the kind of an event, and for where an input came from.
fn word(of: &impl Serialize) -> String {
    match serde_json::to_value(of) {
        Ok(Json::String(word)) => word,
        Ok(Json::Object(event)) => event.get("event").and_then(Json::as_str).unwrap_or_default().to_owned(),
        _ => String::new(),
    }
}

fn beginning() -> Moment {
    Moment::new(jiff::civil::date(1970, 1, 1).at(0, 0, 0, 0), 0)
}

fn time(at: Moment) -> Cell {
    let micros = at.duration_since(beginning()).as_micros();
    // Years are bounded where events are read.
    Cell::Time(i64::try_from(micros).unwrap_or_default())
}

fn day(at: Moment) -> i64 {
    const SECONDS: i64 = 24 * 60 * 60;
    let wall = Moment::new(at.wall(), 0);
    wall.duration_since(beginning()).as_secs().div_euclid(SECONDS)
}
