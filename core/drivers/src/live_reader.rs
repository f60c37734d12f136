//! A reader that is followed while somebody is asked: what comes is heard, what has to be known is recorded, what it shows is
//! offered. Seconds are those of the caller's clock, which only goes forward.

use std::sync::mpsc::TryRecvError;

use indexmap::IndexMap;
use jiff::SignedDuration;
use standpipe_job::Moment;
use standpipe_job::said::StreamNote;

use super::ahead::{Ahead, ahead};
use super::listen::{began, covered_as, is_listening, told};
use standpipe_diagnostic::Code;
use standpipe_diagnostic::columns::capital;
use standpipe_job::plan::Plan;
use standpipe_job::{
    AnswerKind, Given, NotKept, OpenJob, Origin, Prompt, PromptField, ReadFrom, Refusal, StreamStatus, TakenFrom, What,
    When,
};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_stream::{Following, Live, Message, as_typed, mapped, span};

/// Messages taken at once, so that a reader that floods leaves time for people.
const AT_ONCE: usize = 64;
/// No source: own choice; time to put a tool into the hand.
const WARN_BEFORE: f64 = 90.0;

pub struct LiveReader {
    following: Following,
    live: Live,
    /// What it is called.
    source: String,
    /// Recorded that it is followed.
    begun: bool,
    /// What was told last of the next minutes, and of which reading.
    ahead: Option<(f64, Ahead)>,
    warned: bool,
}

/// A value that the reader offers for a field.
pub struct Offer {
    pub quantity: Quantity,
    /// As it is entered.
    pub typed: String,
    /// It lies where it is awaited, or nothing is awaited.
    pub fits: bool,
    pub taken: TakenFrom,
}

/// Why the reader offers nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoOffer {
    /// What is awaited is not reached yet.
    NotYet,
    /// It shows nothing that can be relied on.
    NotShown(String),
}

impl Offer {
    /// With what is to be known before it is taken.
    pub fn words(&self, plan: &Plan) -> String {
        let shown = plan.show(&Value::Quantity(self.quantity.clone()));
        if self.fits { shown } else { format!("{shown}, gone past") }
    }
}

impl NoOffer {
    pub fn refusal(&self) -> Refusal {
        match self {
            Self::NotYet => Refusal::new(Code::UnfitAnswer, "the reading is not in the window yet"),
            Self::NotShown(why) => Refusal::new(Code::UnfitAnswer, format!("the reader shows nothing: {why}"))
                .help("look at the reader, or type what you read by eye"),
        }
    }
}

/// What it showed last, to be drawn.
pub struct Recent {
    pub name: String,
    /// Moment of second 0.
    pub zero: Moment,
    pub points: Vec<(f64, Quantity)>,
    /// The range that is awaited, or was last.
    pub window: Option<(Quantity, Quantity)>,
}

/// How the reader stands, in a line or two.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stands {
    pub lines: Vec<String>,
    /// Somebody should look.
    pub alarm: bool,
}

impl LiveReader {
    pub fn new(following: Following, live: Live, source: String) -> Self {
        Self { following, live, source, begun: false, ahead: None, warned: false }
    }

    fn messages(&mut self) -> Vec<Message> {
        let mut all = Vec::new();
        while all.len() < AT_ONCE && !self.live.over {
            match self.following.messages.try_recv() {
                Ok(message) => all.push(message),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => {
                    all.push(Message::Over);
                    break;
                }
            }
        }
        all
    }

    /// Takes what has come, and gives the job what it has to know. True if somebody should look up: a range is reached or
    /// left, the reader is silent, or the window soon closes.
    ///
    /// Errors: the journal can't be written.
    pub fn listen(&mut self, job: &mut OpenJob, by: &str, now: f64, at: Moment) -> Result<bool, NotKept> {
        let mut heard = Vec::new();
        for message in self.messages() {
            heard.extend(self.live.take(message, now));
        }
        heard.extend(self.live.tick(now));
        if !is_listening(job.state()) {
            return Ok(false);
        }
        if !self.begun && self.live.understood().is_some() {
            self.begun = true;
            let names = self.live.columns.iter().map(|column| &column.name);
            let began: Vec<What> =
                names.filter_map(|name| began(&self.live, job.state(), name, &self.source, at)).collect();
            began.into_iter().try_for_each(|what| note(job, by, what, at))?;
        }
        let mut news = false;
        for one in heard {
            let Some(what) = told(job.machine(), job.state(), one, at) else { continue };
            news |= matches!(
                what,
                What::Sample { .. }
                    | What::Stream { turn: StreamStatus::Stale | StreamStatus::Frozen | StreamStatus::Over, .. }
            );
            note(job, by, what, at)?;
        }
        Ok(self.look_ahead(job, now) || news)
    }

    /// What the next minutes bring, told anew for every new reading. True once when the window is about to close.
    fn look_ahead(&mut self, job: &OpenJob, now: f64) -> bool {
        let Some(column) = self.live.columns.first() else { return false };
        let Some((watch, scale)) = self.live.watch(&column.name).zip(self.live.scale(&column.name)) else {
            return false;
        };
        let (Ok(reading), Some(watched)) = (watch.now(now), job.machine().watched(job.state(), &column.name)) else {
            self.ahead = None;
            return false;
        };
        if self.ahead.as_ref().is_some_and(|(of, _)| *of == reading.at) {
            return false;
        }
        let recent: Vec<(f64, Quantity)> =
            watch.recent().iter().map(|reading| (reading.at, scale.quantity(reading.value))).collect();
        let inside = watched.holds(&Value::Quantity(scale.quantity(reading.value))) == Some(true);
        let Some(outcome) = job.machine().forecast(&watched, &recent) else { return false };
        let ahead = ahead(&outcome, inside, watched.awaited, job.plan());
        let closing = inside && ahead.closes_from.is_some_and(|seconds| seconds < WARN_BEFORE);
        self.ahead = Some((reading.at, Ahead { warn: closing, ..ahead }));
        let before = std::mem::replace(&mut self.warned, closing);
        closing && !before
    }

    /// How it stands.
    pub fn stands(&self, job: &OpenJob, now: f64) -> Stands {
        if let Some(trouble) = &self.live.trouble {
            let mut lines = vec![format!("Reader: {}", trouble.words(&self.source))];
            lines.extend(mapped(job.plan()));
            return Stands { lines, alarm: true };
        }
        let Some(column) = self.live.columns.first() else { return Stands::default() };
        let name = capital(&column.name.replace('_', " "));
        let (Some(watch), Some(scale)) = (self.live.watch(&column.name), self.live.scale(&column.name)) else {
            return Stands { lines: vec![format!("{name}: waiting for rows of {}.", self.source)], alarm: false };
        };
        let show = |value: f64| job.plan().show(&Value::Quantity(scale.quantity(value)));
        match watch.now(now) {
            Ok(reading) => {
                let rate = self.ahead.as_ref().and_then(|(_, ahead)| ahead.rate.as_deref());
                let rate = rate.map(|rate| format!(", {rate}")).unwrap_or_default();
                let age = span(watch.age(now).unwrap_or_default());
                let mut lines = vec![format!("{name} {} by the reader, {age} old{rate}", show(reading.value))];
                let ahead = self.ahead.as_ref().map(|(_, ahead)| ahead);
                lines.extend(ahead.and_then(|ahead| ahead.line.clone()));
                Stands { lines, alarm: ahead.is_some_and(|ahead| ahead.warn) }
            }
            Err(why) => {
                let last = watch.last().map(|last| format!(" Last {}.", show(last.value))).unwrap_or_default();
                Stands { lines: vec![format!("{name} NOT SHOWN by the reader: {why}.{last}")], alarm: true }
            }
        }
    }

    /// What it showed last; none while nothing that it shows can be relied on. `at`: the moment of `now`.
    pub fn recent(&self, job: &OpenJob, now: f64, at: Moment) -> Option<Recent> {
        let column = self.live.columns.first()?;
        let (watch, scale) = (self.live.watch(&column.name)?, self.live.scale(&column.name)?);
        let last = watch.now(now).ok()?;
        let readings = watch.recent();
        let first = readings.first()?.at;
        // Rows that were there before count by the reader's own time, backwards from the last.
        let ago = now - last.seen + last.at - first;
        let zero = at.saturating_add(SignedDuration::from_millis((ago * -1000.0).round() as i64));
        let watched = job.machine().watched(job.state(), &column.name);
        Some(Recent {
            name: column.name.clone(),
            zero,
            points: readings.iter().map(|one| (one.at - first, scale.quantity(one.value))).collect(),
            window: watched.map(|watched| (watched.low, watched.high)),
        })
    }

    /// Whether it reads what a question asks for.
    pub fn reads(&self, field: &PromptField) -> bool {
        self.live.column_of(field).is_some()
    }

    /// It is followed for another job from now on.
    ///
    /// Errors: the journal can't be written.
    pub fn let_go(mut self, job: &mut OpenJob, by: &str, at: Moment) -> Result<(), NotKept> {
        let heard = self.live.end(StreamNote::Failed("it was connected to another job".to_owned()));
        if !self.begun || !is_listening(job.state()) {
            return Ok(());
        }
        let told: Vec<What> = heard.into_iter().filter_map(|one| told(job.machine(), job.state(), one, at)).collect();
        told.into_iter().try_for_each(|what| note(job, by, what, at))
    }

    /// The reading that could be taken for a field, or why there is none; nothing where it does not read that.
    pub fn offer(&self, job: &OpenJob, field: &PromptField, awaited: bool, now: f64) -> Option<Result<Offer, NoOffer>> {
        let column = self.live.column_of(field)?;
        let (watch, scale) = (self.live.watch(&column.name)?, self.live.scale(&column.name)?);
        let reading = match watch.now(now) {
            Ok(reading) => reading,
            Err(why) => return Some(Err(NoOffer::NotShown(why))),
        };
        let quantity = scale.quantity(reading.value);
        let watched = awaited.then(|| job.machine().watched(job.state(), &column.name)).flatten();
        let fits = watched.is_none_or(|range| range.holds(&Value::Quantity(quantity.clone())) != Some(false));
        // What has been in the range and left it again has gone past: that is to be recorded too.
        let left = job.state().streams.get(&column.name).is_some_and(|stream| stream.turn == StreamStatus::Left);
        if !fits && !left {
            return Some(Err(NoOffer::NotYet));
        }
        let (column, of) = (column.name.clone(), column.quantity.clone());
        let typed = as_typed(&job.plan().units, scale, &reading, watch);
        Some(Ok(Offer { quantity, typed, fits, taken: TakenFrom { column, quantity: of, row: Some(reading.at) } }))
    }

    /// The rows that have come, for an entry that took some or was held meanwhile; none where they could not be kept.
    pub fn rows_for(&self, prompt: &Prompt, values: IndexMap<String, TakenFrom>) -> Option<Box<ReadFrom>> {
        if values.is_empty() && !is_held(prompt) {
            return None;
        }
        self.live.read_from(values).ok().flatten().map(Box::new)
    }

    /// Records whether readings came all through a time that was held.
    ///
    /// Errors: the journal can't be written.
    pub fn cover(&self, job: &mut OpenJob, by: &str, (from, to): (f64, f64), at: Moment) -> Result<(), NotKept> {
        for column in &self.live.columns {
            let Some(watch) = self.live.watch(&column.name).filter(|_| self.begun) else { continue };
            let (covered, gap) = watch.covers(from, to);
            note(job, by, covered_as(covered, to - from, gap, &column.name), at)?;
        }
        Ok(())
    }
}

/// One time is held, without items.
fn is_held(prompt: &Prompt) -> bool {
    prompt.item.is_none() && prompt.fields.iter().any(|field| field.kind == AnswerKind::Held)
}

/// Records what a reader did; a refusal is of no use to anybody here.
fn note(job: &mut OpenJob, by: &str, what: What, at: Moment) -> Result<(), NotKept> {
    let given = Given { id: None, on: None, via: None, by: by.to_owned(), origin: Origin::Log, when: When::Now, what };
    match job.give(given, at) {
        Ok(_) | Err(NotKept::Refused(_)) => Ok(()),
        Err(fault) => Err(fault),
    }
}
