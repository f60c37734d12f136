//! A job at hand: machine, journal and state, put together once. Everybody who answers a job gives to this.
//!
//! An input counts when it is on the disk, and it counts once. One process writes, any number look. Who goes on with a
//! job that was left under way resumes it first.

mod ahead;
mod amend;
mod book;
mod give;
mod given;

pub use book::booked;
pub use given::{Asked, Given, InputId, Kept, NotKept, On, Via, When};

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::Machine;
use super::event::{Event, EvidenceRef, Origin, Record};
use super::journal::{Contents, Journal, PLAN, Reopened, evidence};
use super::pending::Pending;
use super::plan::{Plan, kept};
use super::replay::{batches, replay};
use super::state::{Phase, State};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Diagnostic, Problems};

/// How a job is opened.
pub enum Hold {
    /// To look: takes no lock and writes nothing, whether somebody else writes or not.
    Look,
    /// To go on with it. Nobody else writes as long as it lives.
    Write,
    /// To begin it, in a folder that has no journal yet.
    Begin(Box<Plan>),
}

/// Told of a job after something was recorded, with the number of its first event.
pub type After = Box<dyn FnMut(&OpenJob, u64)>;

/// It stays on one thread, as its plan does; what goes in and what comes out may go to others.
pub struct OpenJob {
    machine: Machine,
    dir: PathBuf,
    /// None while it is only looked at.
    journal: Option<Journal>,
    state: State,
    records: Vec<Record>,
    /// Number of the last event of each batch.
    ends: Vec<u64>,
    /// First and last event of what each id led to.
    ids: HashMap<InputId, (u64, u64)>,
    /// The device of each input that came from one, by the number of its first event.
    vias: HashMap<u64, Via>,
    seal: String,
    problems: Problems,
    /// Told of what was recorded.
    after: Option<After>,
    /// It was under way when it was opened, and nobody has resumed it since: how the last entry came.
    left: Option<Origin>,
}

impl OpenJob {
    /// Opens the job of a folder.
    ///
    /// Errors: a folder without a journal, or with one where a job is to begin; a plan that can't be built; a journal that
    /// does not hold or is being written by another process, where it is to be written. One that does not hold can still be
    /// looked at: up to the fault, which is among the [`OpenJob::problems`].
    pub fn open(dir: &Path, how: Hold) -> Result<Self, Problems> {
        match how {
            Hold::Begin(plan) => {
                let mut plan = *plan;
                let journal = Journal::create(dir, &mut plan).map_err(|fault| vec![*fault])?;
                Ok(Self::new(plan, dir, Some(journal)))
            }
            Hold::Write => {
                let Reopened { mut journal, contents } = Journal::open(dir)?;
                let plan = plan_of(&contents, dir)?;
                journal.keeps_apart(&plan);
                let mut job = Self::new(plan, dir, Some(journal));
                job.adopt(contents);
                job.left = job.under_way();
                Ok(job)
            }
            Hold::Look => {
                let contents = Journal::read(dir).map_err(|fault| vec![*fault])?;
                let mut job = Self::new(plan_of(&contents, dir)?, dir, None);
                job.adopt(contents);
                Ok(job)
            }
        }
    }

    fn new(plan: Plan, dir: &Path, journal: Option<Journal>) -> Self {
        Self {
            machine: Machine::new(plan),
            dir: dir.to_owned(),
            journal,
            state: State::default(),
            records: Vec::new(),
            ends: Vec::new(),
            ids: HashMap::new(),
            vias: HashMap::new(),
            seal: String::new(),
            problems: Problems::new(),
            after: None,
            left: None,
        }
    }

    fn adopt(&mut self, contents: Contents) {
        let faults = contents.apart_problems(&self.dir);
        self.state = replay(&contents.records);
        let end = |first: u64| contents.ends.iter().copied().find(|end| *end >= first).unwrap_or(first);
        self.ids = contents.ids.iter().map(|(id, first)| (*id, (*first, end(*first)))).collect();
        self.vias = contents.vias.into_iter().map(|(via, first)| (first, via)).collect();
        (self.records, self.ends) = (contents.records, contents.ends);
        (self.seal, self.problems) = (contents.seal, contents.problems);
        self.problems.extend(faults);
    }

    /// How the last entry of a job came that is under way; what a reader did is no entry, nor are corrected data.
    fn under_way(&self) -> Option<Origin> {
        let batches = batches(&self.records, &self.ends);
        let entered = |batch: &&&[Record]| !matches!(batch[0].event, Event::Amended { .. });
        let mut entries = batches.iter().rev().filter(entered).flat_map(|batch| batch.iter().rev());
        let last = entries.find(|record| record.origin != Origin::Log)?;
        (self.state.phase == Phase::Running).then_some(last.origin)
    }

    /// Goes on with a job that was looked at; nobody else writes from here.
    ///
    /// Errors: as for [`Hold::Write`]. It is still looked at then.
    pub fn take(&mut self) -> Result<(), Problems> {
        if self.journal.is_none() {
            let Reopened { mut journal, contents } = Journal::open(&self.dir)?;
            if contents.current_hash() != self.machine.plan.hash {
                self.machine = Machine::new(plan_of(&contents, &self.dir)?);
            }
            journal.keeps_apart(&self.machine.plan);
            self.adopt(contents);
            self.journal = Some(journal);
            self.left = self.under_way();
        }
        Ok(())
    }

    /// Looks what another process has added; true if there is something new.
    ///
    /// Errors: the journal can't be read any more, or it is another one.
    pub fn look_again(&mut self) -> Result<bool, Problems> {
        if self.journal.is_some() {
            // Nobody else adds to it.
            return Ok(false);
        }
        let contents = Journal::read(&self.dir).map_err(|fault| vec![*fault])?;
        let faults = contents.problems.len() + contents.apart.faults.len();
        if contents.seal == self.seal && faults == self.problems.len() {
            return Ok(false);
        }
        if contents.current_hash() != self.machine.plan.hash {
            self.machine = Machine::new(plan_of(&contents, &self.dir)?);
        }
        self.adopt(contents);
        Ok(true)
    }

    /// Lets `after` know of everything that is recorded from here, when it is on the disk.
    pub fn tell(&mut self, after: After) {
        self.after = Some(after);
    }

    /// What is asked now.
    pub fn asked(&self) -> Asked {
        let pending = self.pending();
        Asked { on: self.on(&pending), pending }
    }

    pub fn pending(&self) -> Pending {
        self.machine.pending(&self.state)
    }

    fn on(&self, pending: &Pending) -> Option<On> {
        let asks = match pending {
            Pending::Entry(prompt) => prompt.asks.clone(),
            Pending::Acceptance { address, .. }
            | Pending::Stopped { address, .. }
            | Pending::Facts { address, .. }
            | Pending::Fault { address, .. } => address.to_string(),
            Pending::Opening | Pending::Resumption { .. } | Pending::Nothing { .. } => return None,
        };
        let moved = self.records.iter().rev().find(|record| !is_beside(&record.event));
        Some(On { asks, since: moved.map_or(0, |record| record.seq) })
    }

    /// Whether somebody has to resume the job, after looking, before they enter anything: it was left under way, or is in
    /// the hands of another.
    pub fn is_to_be_resumed_by(&self, person: &str) -> bool {
        let other = self.state.actor.as_deref() != Some(person);
        match self.state.phase {
            Phase::Running => self.left.is_some() || other,
            Phase::Pausing => other,
            Phase::Paused => true,
            Phase::New | Phase::Resuming | Phase::Abandoned | Phase::Finished => false,
        }
    }

    /// Keeps a copy of a file as evidence, so that an input can name it. `place`: where it was asked for.
    ///
    /// Errors: a file that can't be read, is none or is too large, or a copy that can't be written.
    pub fn keep(&self, file: &Path, place: &Place) -> Result<EvidenceRef, Box<Diagnostic>> {
        evidence::keep(&self.dir, file, place)
    }

    /// As [`OpenJob::keep`], for bytes that were sent. A job that is only looked at keeps nothing.
    ///
    /// Errors: a copy that can't be written.
    pub fn keep_bytes(&self, name: &str, bytes: &[u8], place: &Place) -> Result<EvidenceRef, Box<Diagnostic>> {
        evidence::keep_bytes(&self.dir, name, bytes, place)
    }

    /// Whether this process writes to it.
    pub fn is_held(&self) -> bool {
        self.journal.is_some()
    }

    pub fn machine(&self) -> &Machine {
        &self.machine
    }

    pub fn plan(&self) -> &Plan {
        &self.machine.plan
    }

    pub fn state(&self) -> &State {
        &self.state
    }

    pub fn records(&self) -> &[Record] {
        &self.records
    }

    /// Number of the last event of each batch.
    pub fn ends(&self) -> &[u64] {
        &self.ends
    }

    /// The device that an input came from, by the number of its first event.
    pub fn via(&self, first: u64) -> Option<&Via> {
        self.vias.get(&first)
    }

    /// The folder of the job.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// What was found when the journal was read: errors if its chain is broken, notes otherwise.
    pub fn problems(&self) -> &Problems {
        &self.problems
    }

    /// SHA-256 over the whole journal.
    pub fn seal(&self) -> String {
        self.journal.as_ref().map_or_else(|| self.seal.clone(), Journal::seal)
    }
}

fn plan_of(contents: &Contents, dir: &Path) -> Result<Plan, Problems> {
    let current = contents.current().map_err(|problem| vec![*problem])?;
    kept(current, &dir.join(PLAN).display().to_string())
}

/// What happens beside the work and changes nothing of what is asked.
fn is_beside(event: &Event) -> bool {
    matches!(
        event,
        Event::Noted { .. }
            | Event::Attached { .. }
            | Event::LogKept(_)
            | Event::Stream { .. }
            | Event::Recovered { .. }
    )
}
