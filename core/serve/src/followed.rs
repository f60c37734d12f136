//! One reader for all jobs: connected to one of them at a time, where somebody says so. A number of another job's work would be
//! worse than none.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use indexmap::IndexMap;
use serde::Serialize;
use tokio::sync::watch;

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_drivers::{LiveReader, NoOffer};
use standpipe_job::{
    AnswerKind, Entry, Moment, NotKept, OpenJob, Pending, Phase, Prompt, PromptField, Refusal, TakenFrom,
};
use standpipe_report::Svg;
use standpipe_stream::{column_of, columns};

/// How often a reader that is connected is heard.
pub const BEAT: Duration = Duration::from_millis(250);

/// Begins to follow a reader for a job. The program that serves knows how its rows are meant.
pub type Follow = Arc<dyn Fn(&OpenJob) -> Result<LiveReader, Box<Diagnostic>> + Send + Sync>;

/// The reader that a server is started with.
#[derive(Clone)]
pub struct Reader {
    /// What it is called.
    pub name: String,
    pub follow: Follow,
}

/// The reader, and the id of the job that it is connected to.
#[derive(Clone)]
pub struct Desk {
    reader: Reader,
    at: Arc<Mutex<Option<String>>>,
}

impl Desk {
    pub fn new(reader: Reader) -> Self {
        Self { reader, at: Arc::default() }
    }

    fn at(&self) -> MutexGuard<'_, Option<String>> {
        self.at.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// How the reader stands for a job, as pages show it.
#[derive(Clone, Debug, Serialize)]
pub struct Reading {
    pub lines: Vec<String>,
    pub alarm: bool,
    /// Counts how often somebody should have looked up, since then.
    pub bells: u64,
    pub since: String,
    /// What the step could take from it; none where it asks nothing that the reader reads.
    pub take: Option<Take>,
    pub curve: Option<Svg>,
    pub at: Moment,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Take {
    pub says: String,
    pub can: bool,
}

/// Where the reader is, for one job.
#[derive(Clone, Debug, Serialize)]
pub struct Placed {
    pub name: String,
    pub here: bool,
    /// When bells began to be counted: another after the server was started anew.
    pub since: String,
    /// The job that it is connected to instead.
    pub at: Option<String>,
    /// What is asked now could be read by it.
    pub wanted: bool,
}

/// What is asked now and could be read, with whether it is waited for.
struct Asking {
    /// Number of the last event as this was found out.
    seq: u64,
    fields: Vec<PromptField>,
    awaited: bool,
}

/// The reader as one job knows it.
pub struct Followed {
    desk: Option<Desk>,
    id: String,
    live: Option<LiveReader>,
    begun: Instant,
    since: String,
    bells: u64,
    asking: Option<Asking>,
    shown: watch::Sender<Option<Arc<Reading>>>,
}

impl Followed {
    pub fn new(desk: Option<Desk>, id: &str, shown: watch::Sender<Option<Arc<Reading>>>) -> Self {
        let (id, begun, since) = (id.to_owned(), Instant::now(), Moment::now().to_string());
        Self { desk, id, live: None, begun, since, bells: 0, asking: None, shown }
    }

    pub fn is_connected(&self) -> bool {
        self.live.is_some()
    }

    /// Where it is; none where there is no reader, or nothing of this job is read by one.
    pub fn placed(&self, job: &OpenJob, pending: &Pending) -> Option<Placed> {
        let desk = self.desk.as_ref()?;
        let all = columns(job.plan());
        if all.is_empty() || !job.is_held() {
            return None;
        }
        let at = desk.at().clone().filter(|at| *at != self.id);
        let wanted = match pending {
            Pending::Entry(prompt) => prompt.fields.iter().any(|field| column_of(&all, field).is_some()),
            _ => false,
        };
        let (name, since) = (desk.reader.name.clone(), self.since.clone());
        Some(Placed { name, here: self.is_connected(), since, at, wanted })
    }

    /// From now on it is connected to the work of this job, and to no other.
    ///
    /// Errors: why it can't be followed, in words.
    pub fn connect(&mut self, job: &OpenJob) -> Result<(), Vec<String>> {
        let Some(desk) = &self.desk else { return Err(vec!["the server was started without a reader".to_owned()]) };
        if self.live.is_none() {
            let words = |fault: Box<Diagnostic>| {
                let expected = fault.expected.map(|text| format!("Expected: {text}"));
                [Some(fault.message), expected, fault.help].into_iter().flatten().collect::<Vec<_>>()
            };
            self.live = Some((desk.reader.follow)(job).map_err(words)?);
        }
        *desk.at() = Some(self.id.clone());
        self.asking = None;
        Ok(())
    }

    /// Nothing is read for this job any more.
    pub fn let_go(&mut self) {
        self.live = None;
        self.asking = None;
        self.shown.send_if_modified(|shown| shown.take().is_some());
        if let Some(desk) = &self.desk {
            desk.at().take_if(|at| *at == self.id);
        }
    }

    /// Takes what has come, gives the job what it has to know, and shows how it stands. True if the job or what is said of the
    /// reader has changed.
    ///
    /// Errors: the journal can't be written.
    pub fn hear(&mut self, job: &mut OpenJob) -> Result<bool, NotKept> {
        let Some(live) = &mut self.live else { return Ok(false) };
        let (at, now) = (Moment::now(), self.begun.elapsed().as_secs_f64());
        let by = job.state().actor.clone().unwrap_or_default();
        if self.desk.as_ref().is_some_and(|desk| desk.at().as_ref() != Some(&self.id)) {
            if let Some(live) = self.live.take() {
                live.let_go(job, &by, at)?;
            }
            self.let_go();
            return Ok(true);
        }
        let before = job.state().seq;
        if live.listen(job, &by, now, at)? {
            self.bells += 1;
        }
        self.show(job, now, at);
        Ok(job.state().seq != before)
    }

    fn show(&mut self, job: &OpenJob, now: f64, at: Moment) {
        let Some(live) = &self.live else { return };
        let seq = job.state().seq;
        if self.asking.as_ref().is_none_or(|asking| asking.seq != seq) {
            self.asking = Some(asking(live, job, seq));
        }
        let stands = live.stands(job, now);
        let take = self.asking.as_ref().and_then(|asking| take(live, job, asking, now));
        let same = self.shown.borrow().as_ref().is_some_and(|shown| {
            (&shown.lines, shown.alarm, &shown.take, shown.bells) == (&stands.lines, stands.alarm, &take, self.bells)
        });
        if same {
            return;
        }
        let curve = take.as_ref().and_then(|_| live.recent(job, now, at)).and_then(|recent| {
            let window = recent.window.as_ref().map(|(low, high)| (low, high));
            let says = format!("{} over time", recent.name.replace('_', " "));
            Some(Svg { says, ..standpipe_report::live(job.plan(), recent.zero, &recent.points, window)? })
        });
        let (bells, since) = (self.bells, self.since.clone());
        let reading = Reading { lines: stands.lines, alarm: stands.alarm, bells, since, take, curve, at };
        self.shown.send_replace(Some(Arc::new(reading)));
    }

    /// Puts readings into an entry, for all that it could read and nobody typed. True if all of its values are.
    ///
    /// Errors: the reader shows nothing that can be relied on, or not yet what is awaited.
    pub fn take(&self, job: &OpenJob, prompt: &Prompt, entry: &mut Entry) -> Result<bool, Refusal> {
        let none = || {
            Refusal::new(Code::UnfitAnswer, "no reader is connected to this job")
                .help("say that it is, or type what you read")
        };
        let live = self.live.as_ref().ok_or_else(none)?;
        let now = self.begun.elapsed().as_secs_f64();
        let mut taken: IndexMap<String, TakenFrom> = IndexMap::new();
        for field in readable(live, prompt) {
            if entry.typed.contains_key(&field.name) {
                continue;
            }
            match live.offer(job, field, prompt.within.is_some(), now) {
                Some(Ok(offer)) => {
                    entry.typed.insert(field.name.clone(), offer.typed);
                    taken.insert(field.name.clone(), offer.taken);
                }
                Some(Err(none)) => return Err(none.refusal().of(&field.name)),
                None => {}
            }
        }
        if taken.is_empty() {
            return Err(Refusal::new(Code::UnfitAnswer, "the reader reads nothing of what is asked"));
        }
        let all = entry.typed.keys().all(|name| taken.contains_key(name));
        entry.read = live.rows_for(prompt, taken);
        Ok(all)
    }

    /// Something was held for so long until now: records whether readings came all the while, and keeps them with the entry.
    ///
    /// Errors: the journal can't be written.
    pub fn held(
        &self,
        job: &mut OpenJob,
        time: Option<Duration>,
        prompt: &Prompt,
        entry: &mut Entry,
    ) -> Result<(), NotKept> {
        let Some(live) = &self.live else { return Ok(()) };
        if let Some(time) = time {
            let by = job.state().actor.clone().unwrap_or_default();
            let now = self.begun.elapsed().as_secs_f64();
            live.cover(job, &by, (now - time.as_secs_f64(), now), Moment::now())?;
        }
        entry.read = live.rows_for(prompt, IndexMap::new());
        Ok(())
    }
}

impl Drop for Followed {
    fn drop(&mut self) {
        self.let_go();
    }
}

fn readable<'a>(live: &'a LiveReader, prompt: &'a Prompt) -> impl Iterator<Item = &'a PromptField> {
    prompt.fields.iter().filter(|field| field.kind == AnswerKind::Quantity && live.reads(field))
}

fn asking(live: &LiveReader, job: &OpenJob, seq: u64) -> Asking {
    let (fields, awaited) = match job.pending() {
        Pending::Entry(prompt) if job.state().phase == Phase::Running => {
            (readable(live, &prompt).cloned().collect(), prompt.within.is_some())
        }
        _ => (Vec::new(), false),
    };
    Asking { seq, fields, awaited }
}

fn take(live: &LiveReader, job: &OpenJob, asking: &Asking, now: f64) -> Option<Take> {
    let field = asking.fields.first()?;
    let no = |says: &str| Take { says: says.to_owned(), can: false };
    Some(match live.offer(job, field, asking.awaited, now)? {
        Ok(offer) => Take { says: format!("Take {} by the reader", offer.words(job.plan())), can: true },
        Err(NoOffer::NotYet) => no("Not in the window yet"),
        Err(NoOffer::NotShown(_)) => no("The reader shows nothing to take"),
    })
}
