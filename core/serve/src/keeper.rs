//! One keeper for each job: a thread that alone writes to it. What is said to it waits in a short row; what it shows is the
//! newest view and no other, so that a slow phone costs nothing.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread;
use std::time::{Duration, Instant};

use indexmap::IndexMap;
use tokio::sync::{oneshot, watch};

use crate::compose::{self, Composed};
use crate::followed::{self, Desk, Followed, Reading};
use crate::said::{Said, Wanted};
use crate::view::{Aside, Awaits, Begun, Hold, View, view};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Problems};
use standpipe_job::plan::Plan;
use standpipe_job::{
    EvidenceRef, Given, Hold as Open, Journal, Kept, Moment, NotKept, OpenJob, Origin, Pending, Phase, Refusal, Via,
    What, When,
};

/// More inputs than this at once are no people.
const ROW: usize = 32;
/// Scripts may nest deeply.
const STACK: usize = 8 << 20;
/// How often somebody else's writing is looked for.
const BEAT: Duration = Duration::from_secs(1);
/// A job that nobody looks at is let go after this time.
const IDLE: Duration = Duration::from_secs(300);

/// Who says something, as far as is known.
#[derive(Clone, Debug)]
pub struct Speaker {
    pub device: String,
    /// The device belongs to them; else their name was only said.
    pub own: bool,
    pub person: String,
}

/// What became of what was said.
#[derive(Clone, Debug)]
pub enum Told {
    /// It is on the disk, now or since it was said before.
    Kept,
    /// It needs somebody's look first. Nothing is written yet.
    Awaits,
    Refused {
        field: Option<String>,
        words: Vec<String>,
    },
    /// It was made on something that is not asked any more: the number of the last event it knew of.
    Late {
        since: u64,
    },
    /// Another process writes to the job.
    Held(String),
    /// It could not be written, or the job can't be read.
    Fault(String),
    /// Too much is said at once.
    Busy,
}

impl Told {
    pub fn refused(words: impl Into<String>) -> Self {
        Self::Refused { field: None, words: vec![words.into()] }
    }
}

enum Order {
    Said { said: Box<Said>, by: Speaker, reply: oneshot::Sender<Told> },
    Photo { name: String, bytes: Vec<u8>, asks: Option<String>, by: Speaker, reply: oneshot::Sender<Told> },
}

/// How a job is begun that has no journal yet: on the keeper's thread, as a plan stays on its thread.
pub type Begin = Arc<dyn Fn() -> Result<Plan, Problems> + Send + Sync>;

#[derive(Clone)]
pub struct Keeper {
    orders: SyncSender<Order>,
    pub views: watch::Receiver<Option<Arc<View>>>,
    /// How the reader stands, where it is connected to this job.
    pub readings: watch::Receiver<Option<Arc<Reading>>>,
}

impl Keeper {
    /// `changed` is told whenever the view changes.
    pub fn start(
        id: String,
        dir: PathBuf,
        begin: Option<Begin>,
        desk: Option<Desk>,
        changed: watch::Sender<u64>,
    ) -> std::io::Result<Self> {
        let (orders, row) = sync_channel(ROW);
        let (views, seen) = watch::channel(None);
        let (shown, readings) = watch::channel(None);
        let name = format!("job {id}");
        thread::Builder::new().name(name).stack_size(STACK).spawn(move || {
            let followed = Followed::new(desk, &id, shown);
            Work { id, dir, begin, job: None, aside: Apart::default(), followed, views, changed, version: 0 }.run(&row);
        })?;
        Ok(Self { orders, views: seen, readings })
    }

    pub fn is_gone(&self) -> bool {
        self.views.has_changed().is_err()
    }

    pub async fn say(&self, said: Said, by: Speaker) -> Told {
        self.order(|reply| Order::Said { said: Box::new(said), by, reply }).await
    }

    pub async fn photo(&self, name: String, bytes: Vec<u8>, asks: Option<String>, by: Speaker) -> Told {
        self.order(|reply| Order::Photo { name, bytes, asks, by, reply }).await
    }

    async fn order(&self, order: impl FnOnce(oneshot::Sender<Told>) -> Order) -> Told {
        let (reply, answer) = oneshot::channel();
        match self.orders.try_send(order(reply)) {
            Err(TrySendError::Full(_)) => Told::Busy,
            Err(TrySendError::Disconnected(_)) => Told::Fault("the job has been let go; try again".to_owned()),
            Ok(()) => {
                let gone = || Told::Fault("this job has stopped after a fault of the program".to_owned());
                answer.await.unwrap_or_else(|_| gone())
            }
        }
    }
}

/// What is known beside the journal: none of it counts, all of it may be lost.
#[derive(Default)]
struct Apart {
    awaits: Option<Waiting>,
    begun: Option<Running>,
    /// Kept for the entry under way: by device, and for which ask.
    photos: Vec<(String, String, EvidenceRef)>,
}

struct Waiting {
    shown: Awaits,
    given: Given,
}

struct Running {
    device: String,
    asks: String,
    since: Instant,
}

struct Work {
    id: String,
    dir: PathBuf,
    begin: Option<Begin>,
    job: Option<OpenJob>,
    aside: Apart,
    followed: Followed,
    views: watch::Sender<Option<Arc<View>>>,
    changed: watch::Sender<u64>,
    version: u64,
}

impl Work {
    fn run(&mut self, row: &Receiver<Order>) {
        if Journal::is_in(&self.dir) {
            self.job = OpenJob::open(&self.dir, Open::Look).ok();
        }
        self.publish();
        let mut last = Instant::now();
        loop {
            let beat = if self.followed.is_connected() { followed::BEAT } else { BEAT };
            match row.recv_timeout(beat) {
                Ok(order) => {
                    last = Instant::now();
                    self.order(order);
                }
                Err(RecvTimeoutError::Disconnected) => return,
                Err(RecvTimeoutError::Timeout) => {
                    if self.hears() || self.looks_again() {
                        self.publish();
                    }
                    let held = self.job.as_ref().is_some_and(OpenJob::is_held);
                    // The shelf has one receiver; each page that listens has its own.
                    if !held && self.views.receiver_count() <= 1 && last.elapsed() > IDLE {
                        return;
                    }
                }
            }
        }
    }

    /// What the reader shows meanwhile. True if the job has changed by it.
    fn hears(&mut self) -> bool {
        let Some(job) = self.job.as_mut().filter(|job| job.is_held()) else { return false };
        self.followed.hear(job).unwrap_or_else(|_| {
            // What can't be kept is not followed; entries say themselves why they can't be.
            self.followed.let_go();
            true
        })
    }

    fn looks_again(&mut self) -> bool {
        match &mut self.job {
            Some(job) => job.look_again().unwrap_or(false),
            None if Journal::is_in(&self.dir) => {
                self.job = OpenJob::open(&self.dir, Open::Look).ok();
                self.job.is_some()
            }
            None => false,
        }
    }

    fn order(&mut self, order: Order) {
        let (told, reply) = match order {
            Order::Said { said, by, reply } => (self.said(*said, &by), reply),
            Order::Photo { name, bytes, asks, by, reply } => (self.photo(&name, &bytes, asks, &by), reply),
        };
        self.hears();
        // The view is there before the answer: who was told "kept" sees it.
        self.publish();
        let _ = reply.send(told);
    }

    fn said(&mut self, said: Said, by: &Speaker) -> Told {
        match said.wanted {
            Wanted::Take => return self.take(&said, by),
            Wanted::Withdraw => {
                self.aside.awaits = None;
                return Told::Kept;
            }
            _ => {}
        }
        let Some(job) = self.job.as_mut().filter(|job| job.is_held()) else {
            return Told::refused("nobody has taken the job here yet: take it first");
        };
        let made_on = said.on.as_ref().map(|on| on.asks.as_str());
        if job.has_kept(said.id, &by.person, made_on) {
            return Told::Kept;
        }
        if let Wanted::Looked { so } = said.wanted {
            return self.looked(so, &said, by);
        }
        if needs_resuming(&said.wanted) && job.is_to_be_resumed_by(&by.person) {
            return Told::refused("look at the work and take the job over first");
        }
        let asked = job.asked();
        let asks = asked.on.as_ref().map(|on| on.asks.clone()).unwrap_or_default();
        if let Wanted::Begin = said.wanted {
            self.aside.begun = Some(Running { device: by.device.clone(), asks, since: Instant::now() });
            return Told::Kept;
        }
        let held = self.aside.begun.as_ref().filter(|begun| begun.device == by.device && begun.asks == asks);
        let held = held.map(|begun| begun.since.elapsed());
        if let Wanted::Connect = said.wanted {
            return match self.followed.connect(job) {
                Ok(()) => Told::Kept,
                Err(words) => Told::Refused { field: None, words },
            };
        }
        let by_reader = matches!(&said.wanted, Wanted::Enter(answer) if answer.reader);
        let whole = matches!(said.wanted, Wanted::Held { whole: true });
        let photos = self.aside.photos.iter().filter(|(device, of, _)| *device == by.device && *of == asks);
        let photos: Vec<EvidenceRef> = photos.map(|(_, _, photo)| photo.clone()).collect();
        let mut what = match compose::compose(job, &asked, said.wanted, held, photos) {
            Ok(Composed::Now(what)) => what,
            // By the time that somebody has looked the reading is an old one.
            Ok(Composed::Asks { .. }) if by_reader => {
                return Told::refused("a reading is taken at once: let the second person look here, or type the value");
            }
            Ok(Composed::Asks { what, who, looks }) => {
                let given = self.given(said.id, said.on, said.age, by, what);
                let shown = Awaits { by: by.person.clone(), who, looks, asks };
                self.aside.awaits = Some(Waiting { shown, given });
                return Told::Awaits;
            }
            Err(refusal) => return refused(&refusal),
        };
        let mut origin = Origin::Page;
        if let (Pending::Entry(prompt), What::Enter(entry)) = (&asked.pending, &mut what) {
            if by_reader {
                match self.followed.take(job, prompt, entry) {
                    Ok(true) => origin = Origin::Log,
                    Ok(false) => {}
                    Err(refusal) => return refused(&refusal),
                }
            } else if let Err(fault) = self.followed.held(job, held.filter(|_| whole), prompt, entry) {
                return unkept(fault);
            }
        }
        let entered = matches!(what, What::Enter(_));
        let given = Given { origin, ..self.given(said.id, said.on, said.age, by, what) };
        let told = self.give(given);
        if entered && matches!(told, Told::Kept) {
            // Asked again, it is another try: neither the time nor the photo of the last one counts for it.
            self.aside.begun = None;
            self.aside.photos.retain(|(_, of, _)| *of != asks);
        }
        told
    }

    fn given(
        &self,
        id: standpipe_job::InputId,
        on: Option<standpipe_job::On>,
        age: u32,
        by: &Speaker,
        what: What,
    ) -> Given {
        let when = match age {
            // On its way, or a moment of thought: not late.
            0..5 => When::Now,
            age => {
                let then = Moment::now().saturating_add(jiff::SignedDuration::from_secs(-i64::from(age)));
                let last = self.job.as_ref().and_then(|job| job.state().at);
                When::Done(last.map_or(then, |last| then.max(last)))
            }
        };
        let via = Via { device: by.device.clone(), own: by.own, witness: None };
        Given { id: Some(id), on, via: Some(via), by: by.person.clone(), origin: Origin::Page, when, what }
    }

    fn give(&mut self, given: Given) -> Told {
        let Some(job) = self.job.as_mut() else { return Told::refused("there is no such job") };
        let by = given.by.clone();
        match job.give(given, Moment::now()) {
            Ok(Kept::Now(_) | Kept::Before(_)) => {
                // What needs nobody is worked out at once.
                for _ in 0..8 {
                    if job.pending() != Pending::Opening {
                        break;
                    }
                    let tick = Given { origin: Origin::Page, ..Given::typed(&by, What::Tick) };
                    if job.give(tick, Moment::now()).is_err() {
                        break;
                    }
                }
                self.settle();
                Told::Kept
            }
            Err(fault) => unkept(fault),
        }
    }

    /// After something was kept: what belonged to the entry before is over, and a job that rests is let go.
    fn settle(&mut self) {
        let Some(job) = &self.job else { return };
        let asks = job.asked().on.map(|on| on.asks).unwrap_or_default();
        self.aside.photos.retain(|(_, of, _)| *of == asks);
        self.aside.begun.take_if(|begun| begun.asks != asks);
        self.aside.awaits.take_if(|waiting| waiting.shown.asks != asks);
        if !job.state().is_open() || job.state().phase == Phase::Paused {
            self.job = OpenJob::open(&self.dir, Open::Look).ok();
            self.followed.let_go();
        }
    }

    /// Writes to the job from here, and goes on with it as this person, where that is due.
    fn take(&mut self, said: &Said, by: &Speaker) -> Told {
        let was_open = self.job.is_some();
        match &mut self.job {
            Some(job) => {
                if let Err(problems) = job.take() {
                    return faulty(&problems);
                }
            }
            None => {
                let Some(begin) = &self.begin else { return Told::refused("there is no such job") };
                let opened = begin().and_then(|plan| OpenJob::open(&self.dir, Open::Begin(Box::new(plan))));
                match opened {
                    Ok(job) => self.job = Some(job),
                    Err(problems) => return faulty(&problems),
                }
            }
        }
        let Some(job) = &self.job else { return Told::refused("there is no such job") };
        let what = if job.state().phase == Phase::New {
            What::Open
        } else if job.is_to_be_resumed_by(&by.person) {
            What::Resume
        } else if was_open && job.pending() == Pending::Opening {
            What::Tick
        } else {
            return Told::Kept;
        };
        let given = self.given(said.id, None, 0, by, what);
        self.give(given)
    }

    fn looked(&mut self, so: bool, said: &Said, by: &Speaker) -> Told {
        let Some(waiting) = self.aside.awaits.take() else {
            return Told::refused("nobody is asked to look any more");
        };
        if waiting.shown.who != by.person || !by.own {
            let refused = Told::refused("somebody else was asked to look");
            self.aside.awaits = Some(waiting);
            return refused;
        }
        if !so {
            let text = format!("Looked, and it is not so: {}", waiting.shown.looks);
            let given = self.given(said.id, None, 0, by, What::Note(text));
            return self.give(given);
        }
        let mut given = waiting.given;
        if let What::Enter(entry) = &mut given.what {
            entry.witness = Some(by.person.clone());
        }
        if let Some(via) = &mut given.via {
            via.witness = Some(by.device.clone());
        }
        given.when = When::Now;
        self.give(given)
    }

    fn photo(&mut self, name: &str, bytes: &[u8], asks: Option<String>, by: &Speaker) -> Told {
        let Some(job) = self.job.as_mut().filter(|job| job.is_held()) else {
            return Told::refused("nobody has taken the job here yet: take it first");
        };
        let place = Place::whole(&Source::new("<page>", ""));
        let photo = match job.keep_bytes(name, bytes, &place) {
            Ok(photo) => photo,
            Err(fault) => return Told::Fault(fault.message.clone()),
        };
        let now_asked = job.asked().on.map(|on| on.asks);
        match asks {
            Some(asks) if now_asked.as_ref() == Some(&asks) => {
                self.aside.photos.push((by.device.clone(), asks, photo));
                Told::Kept
            }
            Some(_) => Told::Late { since: job.state().seq },
            None => {
                let id = standpipe_job::InputId(crate::random::number());
                let given = self.given(id, None, 0, by, What::Attach(photo));
                self.give(given)
            }
        }
    }

    fn publish(&mut self) {
        let Some(job) = &self.job else { return };
        let hold = if job.is_held() { Hold::Ours } else { Hold::Looked };
        let mut photos: IndexMap<String, Vec<String>> = IndexMap::new();
        for (device, _, photo) in &self.aside.photos {
            photos.entry(device.clone()).or_default().push(photo.name.clone());
        }
        let begun = self.aside.begun.as_ref().map(|begun| Begun {
            device: begun.device.clone(),
            asks: begun.asks.clone(),
            seconds: begun.since.elapsed().as_secs_f64(),
        });
        let awaits = self.aside.awaits.as_ref().map(|waiting| waiting.shown.clone());
        let reader = self.followed.placed(job, &job.pending());
        self.version += 1;
        let view = view(&self.id, job, Aside { version: self.version, hold, awaits, begun, photos, reader });
        self.views.send_replace(Some(Arc::new(view)));
        self.changed.send_modify(|number| *number += 1);
    }
}

/// What somebody may not say before they have taken the work over. A note or a word on a gate answers no step; of entries, which
/// may be a signature of another, the machine itself says whose they have to be.
fn needs_resuming(wanted: &Wanted) -> bool {
    !matches!(wanted, Wanted::Note(_) | Wanted::Accept { .. } | Wanted::Enter(_) | Wanted::Looked { .. })
}

fn unkept(fault: NotKept) -> Told {
    match fault {
        NotKept::Refused(refusal) => refused(&refusal),
        NotKept::Late { meanwhile, .. } => Told::Late { since: meanwhile.start.saturating_sub(1) },
        NotKept::Looking => Told::refused("nobody has taken the job here yet: take it first"),
        NotKept::Disk(fault) => Told::Fault(fault.message.clone()),
    }
}

fn refused(refusal: &Refusal) -> Told {
    let mut words = vec![refusal.message.clone()];
    words.extend(refusal.expected.iter().map(|text| format!("Expected: {text}")));
    words.extend(refusal.help.clone());
    Told::Refused { field: refusal.field.clone(), words }
}

fn faulty(problems: &Problems) -> Told {
    match problems.iter().find(|problem| problem.code == Code::JournalInUse) {
        Some(problem) => Told::Held(problem.message.clone()),
        None => {
            let words: Vec<String> = problems.iter().map(|problem| problem.message.clone()).collect();
            Told::Fault(words.join("; "))
        }
    }
}
