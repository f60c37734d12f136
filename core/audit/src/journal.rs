//! One journal: read, replayed, looked at from all sides.

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::against::{Recheck, recheck};
use super::amended::Machines;
use super::apart;
use super::book;
use super::decided::Decided;
use super::habits::Habits;
use super::instruments::Instruments;
use super::known::{Books, Known};
use super::order::Order;
use super::people::People;
use super::point::{At, Point, Verdict};
use super::recall::Recall;
use super::seen::{Look, Seen};
use super::stamps::Anchored;
use super::{at_hand, devices, extract, keys, logs, packed, readings, torn, whole};
use standpipe_diagnostic::{Code, Problems};
use standpipe_job::edition::{self, Computed};
use standpipe_job::journal::{Contents, LINES, LeftOut, PLAN, evidence};
use standpipe_job::plan::{Kept, Snapshot, renewed};
use standpipe_job::replay::{batches, entered};
use standpipe_job::{Event, Journal, Machine, Phase, State};
use standpipe_library::Files;
use standpipe_pack::{Unpacked, is_pack};
use standpipe_sign::{Signed, Signers, all_beside};

/// What is wanted beside the points that every journal has.
#[derive(Default)]
pub struct Asked {
    /// The seal as it was printed.
    pub seal: Option<String>,
    /// Newer plugins to judge old entries under.
    pub against: Option<Files>,
    /// An instrument that was found to be off.
    pub recall: Option<Recall>,
    /// Read as they are needed.
    pub books: Books,
    /// The hash of a line of a book as it was printed, for what packs have of it; folders are held to it by [`super::missing`].
    pub printed: Option<String>,
    /// Who may sign by which key.
    pub signers: Option<Signers>,
}

#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Audited {
    pub folder: String,
    pub job: String,
    pub subject: String,
    pub invented: bool,
    /// A model answered it.
    pub simulated: bool,
    pub state: &'static str,
    /// Finished or abandoned: nothing follows any more.
    pub closed: bool,
    /// When the last event was entered.
    #[schemars(with = "Option<String>")]
    pub at: Option<Moment>,
    pub events: usize,
    /// Version of this program that began it.
    pub written_by: String,
    /// SHA-256 of the journal as far as it was read.
    pub hash: String,
    /// Of a closed journal.
    pub seal: Option<String>,
    /// The worst of all points.
    pub verdict: Verdict,
    pub points: Vec<Point>,
    /// What can be signed by key, and what is shown of who did it. Empty where nothing is signed and nobody asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub signed: Vec<Signed>,
    /// Whether a list said who may sign by which key.
    #[serde(skip)]
    pub listed: bool,
    /// Of a book: until when a time stamp vouches for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anchored: Option<Anchored>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recheck: Option<Recheck>,
    /// Where one is asked of: the instruments that its shop has, and those that were read from.
    #[serde(skip)]
    pub instruments: Vec<String>,
    /// This program failed on it; nothing else here says anything of the job.
    #[serde(skip)]
    pub defect: bool,
}

impl Audited {
    /// One of which nothing is known yet but where it lies.
    pub fn new(folder: &Path) -> Self {
        Self {
            folder: folder.display().to_string(),
            job: folder.file_name().unwrap_or(folder.as_os_str()).to_string_lossy().into_owned(),
            subject: String::new(),
            invented: false,
            simulated: false,
            state: Phase::New.words(),
            closed: false,
            at: None,
            events: 0,
            written_by: String::new(),
            hash: String::new(),
            seal: None,
            verdict: Verdict::Holds,
            points: Vec::new(),
            signed: Vec::new(),
            listed: false,
            anchored: None,
            recheck: None,
            instruments: Vec::new(),
            defect: false,
        }
    }

    /// With the worst of what was found as its verdict.
    #[must_use]
    pub fn settle(mut self) -> Self {
        let missed = self.recheck.iter().any(|recheck| !recheck.missed.is_empty());
        // What was asked and could not be judged again is not said to hold.
        let unjudged = self.recheck.iter().any(|recheck| !recheck.not_judged.is_empty());
        let again = match (missed, unjudged) {
            (true, _) => Verdict::DoesNotHold,
            (false, true) => Verdict::NotShown,
            (false, false) => Verdict::Holds,
        };
        let points = self.points.iter().map(|point| point.verdict);
        self.verdict = points.chain([again]).max().unwrap_or(again);
        self
    }
}

/// Looks at the journal in a folder. What can't even be read does not hold. `plans`: of the journals before it.
///
/// A pack is taken out and looked at in the same way.
pub fn audit(folder: &Path, asked: &Asked, plans: &mut Kept) -> Audited {
    if is_pack(folder) { packed::audit(folder, asked, plans) } else { look(folder, asked, plans, None) }
}

/// `unpacked`: the pack that the folder was taken from.
pub(super) fn look(folder: &Path, asked: &Asked, plans: &mut Kept, unpacked: Option<&Unpacked>) -> Audited {
    let mut audited = Audited::new(folder);
    let lines = folder.join(LINES).display().to_string();
    // In this order, as all of them may grow meanwhile: what is entered was signed before, and what is signed stands in the journal.
    let known = match unpacked {
        Some(pack) => Known::packed(pack, folder),
        None => asked.books.beside(folder),
    };
    let beside = all_beside(folder);
    let contents = match Journal::read(folder) {
        Ok(contents) => contents,
        Err(fault) => {
            // Nobody is accused of what this version can't read.
            let newer = fault.code == Code::NewerVersion;
            let verdict = if newer { Verdict::NotShown } else { Verdict::DoesNotHold };
            let mut point = Point::new(if newer { "version" } else { "chain of hashes" }, fault.place.name());
            point.find(verdict, None, fault.message.clone());
            audited.state = "not read";
            audited.points.push(point);
            audited.points.extend(asked.seal.iter().map(|_| {
                let mut seal = Point::new("seal", &lines);
                seal.find(verdict, None, "there is no journal to compare it with");
                seal
            }));
            return audited.settle();
        }
    };
    audited.events = contents.records.len();
    audited.hash.clone_from(&contents.seal);
    audited.at = contents.records.last().map(entered);
    if let Some(Event::Opened { job, tool, .. }) = contents.records.first().map(|record| &record.event) {
        audited.job.clone_from(job);
        audited.written_by.clone_from(tool);
    }
    let state = standpipe_job::replay::replay(&contents.records);
    audited.state = state.phase.words();
    audited.closed = !state.is_open() && contents.records.len() > 1;
    audited.points.push(chain(&contents, &lines, audited.closed));
    audited.points.extend(apart::point(&contents, folder));
    audited.points.push(plan_hash(folder, &contents));
    let plan_holds = audited.points.last().is_some_and(|point| point.verdict == Verdict::Holds);
    let plan_file = folder.join(PLAN).display().to_string();
    match plans.plan(&contents.plan, &plan_file) {
        Ok(plan) => {
            let entered = known.as_ref().map(|known| known.entered(folder)).unwrap_or_default();
            let (machines, corrected) = Machines::new(Machine::new(plan), &contents, plans, &lines);
            let machine = machines.last();
            audited.points.extend(corrected);
            audited.subject = machine.plan.subject(&state.supplied);
            audited.invented = machine.plan.invented;
            audited.simulated = machine.plan.simulated().is_some();
            if state.is_open() && machine.pending(&state).is_held() {
                audited.state = "stopped";
            }
            let versions: Vec<Point> =
                machines.plans().map(|plan| version(&plan.snapshot, &contents, &lines)).collect();
            let same = versions.iter().all(|version| version.verdict != Verdict::NotShown);
            let worst = |points: Vec<Point>| points.into_iter().max_by_key(|point| point.verdict);
            audited.points.extend(worst(versions));
            audited
                .points
                .extend(worst(machines.plans().map(|plan| at_hand::point(&plan.snapshot, &plan_file)).collect()));
            audited.points.extend(replayed(&machines, &contents, &lines, same));
            let mut rest = whole::points(&machine.plan, &state, &lines);
            if contents.records.iter().any(|record| matches!(record.event, Event::LogKept(_))) {
                rest.push(logs::point(&machine.plan, &contents.records, folder, &lines));
            }
            if !same {
                rest.iter_mut().for_each(Point::doubt);
            }
            audited.points.extend(rest);
            audited.points.extend(readings::point(&machine.plan, &contents.records, folder, &lines));
            if let Some((point, signed)) =
                keys::point(&machine.plan, &contents, &beside, asked.signers.as_ref(), &entered, &lines)
            {
                audited.points.push(point);
                audited.signed = signed;
                audited.listed = asked.signers.is_some();
            }
            if let Some(newer) = asked.against.as_ref().filter(|_| state.phase == Phase::Finished) {
                audited.recheck = Some(under(machine, newer, &state));
            }
            if let Some(recall) = asked.recall.as_ref().filter(|_| state.phase == Phase::Finished) {
                audited.recheck = recall.recheck(&machine.plan, &state);
            }
            if asked.recall.is_some() {
                let used = state.readings.iter().filter_map(|reading| reading.with.clone());
                audited.instruments = machine.plan.shop.instruments.keys().cloned().chain(used).collect();
            }
        }
        Err(problems) => audited.points.push(no_plan(&problems, &plan_file, plan_holds)),
    }
    audited.points.push(kept_evidence(folder, &contents, &lines));
    audited.points.extend(devices::point(&contents, &lines));
    audited.points.extend(torn::point(&contents.records, folder, &lines));
    let signatures = beside.as_deref().unwrap_or_default();
    match unpacked {
        Some(unpacked) => {
            audited.points.push(packed::point(unpacked, &contents, folder));
            let file = folder.display().to_string();
            let printed = asked.printed.as_deref();
            audited.points.extend(extract::point(known.as_deref(), &contents, signatures, printed, &file));
        }
        None => {
            let point = known.map(|known| book::point(folder, &contents, &known, signatures, &lines));
            audited.points.extend(point);
        }
    }
    audited.points.push(closed(&contents, &state, &lines));
    if audited.closed {
        audited.seal = Some(contents.seal.clone());
    }
    if let Some(seal) = &asked.seal {
        audited.points.push(sealed(&contents, audited.closed, seal, &lines));
    }
    audited.settle()
}

fn under(machine: &Machine, newer: &Files, state: &State) -> Recheck {
    match renewed(&machine.plan.snapshot, newer) {
        Ok(plan) => recheck(&machine.plan, &plan, state),
        Err(problems) => Recheck { missed: Vec::new(), not_judged: vec![not_built(&problems)] },
    }
}

/// Why nothing is judged by newer data that are not sound.
pub fn not_built(problems: &Problems) -> String {
    let first = problems.iter().find(|problem| problem.is_error());
    let why = first.map_or("no plan".to_owned(), |problem| format!("{}: {}", problem.place, problem.message));
    format!("the plan can't be built with the newer data: {why}")
}

fn chain(contents: &Contents, file: &str, closed: bool) -> Point {
    let mut point = Point::new("chain of hashes", file);
    point.looked_at = contents.records.len() as u64;
    for problem in &contents.problems {
        // Nothing is written to a closed journal, so nothing of it can be unfinished.
        let verdict = if problem.is_error() || closed { Verdict::DoesNotHold } else { Verdict::NotShown };
        let line = match problem.is_error() {
            true => problem.place.line() as u64,
            false => contents.records.last().map_or(1, |record| record.seq + 1),
        };
        point.find(verdict, Some(line), problem.message.clone());
    }
    point
}

/// Is the plan beside the journal the one that the job was begun with?
fn plan_hash(folder: &Path, contents: &Contents) -> Point {
    let mut point = Point::new("plan", &folder.join(PLAN).display().to_string());
    point.looked_at = 1;
    match first_line_names(&folder.join(LINES)) {
        Some(named) if named == contents.plan_hash => {
            if let Err(problem) = &contents.plan.texts {
                point.find(Verdict::DoesNotHold, None, problem.message.clone());
            }
        }
        Some(_) => point.find(
            Verdict::DoesNotHold,
            None,
            "it is not the plan that the job was begun with: the first event names a different hash",
        ),
        None => point.find(Verdict::NotShown, None, "the first event, which names the hash of the plan, can't be read"),
    }
    point
}

/// What the first line says, even if it can't be relied on.
fn first_line_names(lines: &Path) -> Option<String> {
    use std::io::{BufRead, Read};
    /// The first event is a few hundred bytes long.
    const LONGEST: u64 = 64 << 10;
    let file = standpipe_disk::open(lines).ok()?;
    let mut line = Vec::new();
    std::io::BufReader::new(file.take(LONGEST)).read_until(b'\n', &mut line).ok()?;
    let json: serde_json::Value = serde_json::from_slice(&line).ok()?;
    Some(json.get("plan")?.as_str()?.to_owned())
}

/// Was it written by versions that compute as this one does? Formats that are not known have been refused before.
fn version(snapshot: &Snapshot, contents: &Contents, file: &str) -> Point {
    let mut point = Point::new("version", file);
    point.looked_at = 1;
    let opened = contents.records.iter().find_map(|record| match &record.event {
        Event::Opened { tool, interpreter, .. } => Some((tool, interpreter)),
        _ => None,
    });
    for (tool, interpreter) in [Some((&snapshot.tool, &snapshot.interpreter)), opened].into_iter().flatten() {
        match edition::computed_by(tool, interpreter) {
            Computed::Alike => {}
            Computed::ByNewer => {
                let message = format!(
                    "version {tool} ran its scripts by `{interpreter}`: that version, or a newer one, can tell"
                );
                point.unshown(1, message);
            }
            Computed::ByNone(why) => point.fails(1, why),
        }
    }
    point
}

fn no_plan(problems: &Problems, file: &str, holds: bool) -> Point {
    let mut point = Point::new("decisions", file);
    // A plan that is as it was kept, yet can't be built: this version is at fault, not the record.
    let verdict = if holds { Verdict::NotShown } else { Verdict::DoesNotHold };
    let message = problems.first().map_or_else(String::new, |problem| format!(": {}", problem.message));
    point.find(verdict, None, format!("nothing can be decided again without the plan{message}"));
    point
}

/// One pass over the events, with the state as it was before each. `same`: by a version that computes as this one does.
fn replayed(machines: &Machines, contents: &Contents, file: &str, same: bool) -> Vec<Point> {
    let mut decided = Decided::new(file, &contents.apart);
    let mut looks = looks(file);
    let mut state = State::default();
    for batch in batches(&contents.records, &contents.ends) {
        let first = batch.first().map_or(0, |record| record.seq);
        decided.batch(machines.at(first), &state, batch);
        for record in batch {
            let seen = Seen { plan: &machines.at(first).plan, before: &state, record };
            looks.iter_mut().for_each(|look| look.see(&seen));
            state.apply(record);
        }
    }
    let mut decisions = decided.point();
    if !same {
        decisions.doubt();
    }
    let mut points = vec![decisions];
    points.extend(looks.into_iter().flat_map(|look| look.points()));
    points
}

/// All that look at one event after the other.
pub(super) fn looks(file: &str) -> Vec<Box<dyn Look>> {
    vec![
        Box::new(Order::new(file)),
        Box::new(People::new(file)),
        Box::new(Instruments::new(file)),
        Box::new(Habits::new(file)),
    ]
}

fn kept_evidence(folder: &Path, contents: &Contents, file: &str) -> Point {
    let mut point = Point::new("evidence", file);
    let left_out = LeftOut::of(folder);
    for (seq, named) in evidence::named(&contents.records) {
        point.looked_at += 1;
        if let Err(fault) = evidence::holds(folder, named) {
            let place = match evidence::path_of(folder, named) {
                Some(path) => At { file: path.display().to_string(), line: None },
                None => At { file: file.to_owned(), line: Some(seq) },
            };
            // Who made the copy says so: that it was there, and what it shows, is as open as if nobody had said anything.
            let verdict = if left_out.has(folder, named) { Verdict::NotShown } else { Verdict::DoesNotHold };
            point.find_in(verdict, place, format!("`{}` of event {seq}: {fault}", named.name));
        }
    }
    point
}

/// A journal that is not closed may have lost its end, and nobody could tell.
fn closed(contents: &Contents, state: &State, file: &str) -> Point {
    let mut point = Point::new("closed", file);
    point.looked_at = 1;
    if state.is_open() || contents.records.len() < 2 {
        let line = contents.records.last().map_or(1, |record| record.seq);
        let message = format!("the job is {}: what came after, if anything did, is not shown", state.phase.words());
        point.unshown(line, message);
    }
    point
}

fn sealed(contents: &Contents, closed: bool, seal: &str, file: &str) -> Point {
    let mut point = Point::new("seal", file);
    point.looked_at = 1;
    let whole = contents.problems.is_empty();
    let fault = match (closed, whole) {
        (false, _) => "a seal is printed when a job is closed, and this one is not",
        (true, false) => "the journal is not as it was when it was sealed",
        (true, true) if *seal != contents.seal => "it is not the one that the journal has",
        (true, true) => return point,
    };
    point.find(Verdict::DoesNotHold, None, fault);
    point
}
