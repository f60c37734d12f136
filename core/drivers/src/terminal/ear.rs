//! A reader that is followed while somebody is asked: what comes is heard between two keys, what has to be known is recorded,
//! and two lines say how it stands.

use std::sync::mpsc::TryRecvError;
use std::time::Duration;

use indexmap::IndexMap;

use super::ahead::{Ahead, ahead};
use super::page::Page;
use super::screen::capital;
use super::session::{Fault, Session, terminal_fault};
use crate::listen::{began, covered_as, is_listening, told};
use standpipe_job::{Origin, PromptField, ReadFrom, TakenFrom, Turn, What};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_stream::{Following, Heard, Live, Message, as_typed, mapped, span};

/// How often the screen listens while no key comes.
pub(super) const BEAT: Duration = Duration::from_millis(200);
/// Messages taken between two looks at the keyboard.
const AT_ONCE: usize = 64;
/// No source: own choice; time to put a tool into the hand.
const WARN_BEFORE: f64 = 90.0;

pub struct Ear {
    pub following: Following,
    pub live: Live,
    /// What it is called.
    pub source: String,
    /// Recorded that it is followed.
    begun: bool,
    /// What was told last, and of which reading.
    ahead: Option<(f64, Ahead)>,
    warned: bool,
}

/// A value that Enter takes.
pub struct Offer {
    pub quantity: Quantity,
    /// As it is entered.
    pub typed: String,
    /// It lies where it is awaited, or nothing is awaited.
    pub fits: bool,
    pub taken: TakenFrom,
}

impl Ear {
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
}

impl Session<'_> {
    fn seconds(&self) -> f64 {
        self.console.elapsed().as_secs_f64()
    }

    /// Takes what has come, and records what has to be.
    pub(super) fn listen(&mut self) -> Result<(), Fault> {
        let now = self.seconds();
        let Some(ear) = &mut self.ear else { return Ok(()) };
        let mut heard = Vec::new();
        for message in ear.messages() {
            heard.extend(ear.live.take(message, now));
        }
        heard.extend(ear.live.tick(now));
        if !is_listening(&self.state) {
            return Ok(());
        }
        if !ear.begun && ear.live.understood().is_some() {
            ear.begun = true;
            let at = (self.clock)();
            let names = ear.live.columns.iter().map(|column| &column.name);
            let began: Vec<What> =
                names.filter_map(|name| began(&ear.live, &self.state, name, &ear.source, at)).collect();
            for what in began {
                self.note(what)?;
            }
        }
        for one in heard {
            self.hear(one)?;
        }
        self.look_ahead()
    }

    fn hear(&mut self, heard: Heard) -> Result<(), Fault> {
        let Some(what) = told(self.machine, &self.state, heard, (self.clock)()) else { return Ok(()) };
        let bell = matches!(what, What::Sample { .. })
            || matches!(what, What::Stream { turn: Turn::Stale | Turn::Frozen | Turn::Over, .. });
        self.note(what)?;
        if bell {
            self.console.bell().map_err(|error| terminal_fault(&error))?;
        }
        Ok(())
    }

    /// Records what a reader did; a refusal is of no use to anybody here.
    pub(super) fn note(&mut self, what: What) -> Result<(), Fault> {
        let who = self.who.clone();
        self.record(&who, Origin::Log, what).map(|_| ())
    }

    /// What the next minutes bring, told anew for every new reading.
    fn look_ahead(&mut self) -> Result<(), Fault> {
        let now = self.seconds();
        let Some(ear) = &mut self.ear else { return Ok(()) };
        let Some(column) = ear.live.columns.first() else { return Ok(()) };
        let Some((watch, scale)) = ear.live.watch(&column.name).zip(ear.live.scale(&column.name)) else {
            return Ok(());
        };
        let (Ok(reading), Some(watched)) = (watch.now(now), self.machine.watched(&self.state, &column.name)) else {
            ear.ahead = None;
            return Ok(());
        };
        if ear.ahead.as_ref().is_some_and(|(of, _)| *of == reading.at) {
            return Ok(());
        }
        let recent: Vec<(f64, Quantity)> =
            watch.recent().iter().map(|reading| (reading.at, scale.quantity(reading.value))).collect();
        let inside = watched.holds(&Value::Quantity(scale.quantity(reading.value))) == Some(true);
        let Some(outcome) = self.machine.forecast(&watched, &recent) else { return Ok(()) };
        let ahead = ahead(&outcome, inside, watched.awaited, &self.machine.plan);
        let closing = inside && ahead.closes_from.is_some_and(|seconds| seconds < WARN_BEFORE);
        let bell = closing && !ear.warned;
        ear.warned = closing;
        ear.ahead = Some((reading.at, Ahead { warn: closing, ..ahead }));
        if bell {
            self.console.bell().map_err(|error| terminal_fault(&error))?;
        }
        Ok(())
    }

    /// How the reader stands, on the page that is shown.
    pub(super) fn say_how_it_stands(&mut self, page: &mut Page) {
        let now = self.seconds();
        let Some(ear) = &self.ear else { return };
        (page.live, page.alarm) = (Vec::new(), false);
        if let Some(trouble) = &ear.live.trouble {
            page.live = vec![format!("Reader: {}", trouble.words(&ear.source))];
            page.live.extend(mapped(&self.machine.plan));
            page.alarm = true;
            return;
        }
        let Some(column) = ear.live.columns.first() else { return };
        let name = capital(&column.name.replace('_', " "));
        let (Some(watch), Some(scale)) = (ear.live.watch(&column.name), ear.live.scale(&column.name)) else {
            page.live = vec![format!("{name}: waiting for rows of {}.", ear.source)];
            return;
        };
        let show = |value: f64| self.machine.plan.show(&Value::Quantity(scale.quantity(value)));
        match watch.now(now) {
            Ok(reading) => {
                let rate = ear.ahead.as_ref().and_then(|(_, ahead)| ahead.rate.as_deref());
                let rate = rate.map(|rate| format!(", {rate}")).unwrap_or_default();
                let age = span(watch.age(now).unwrap_or_default());
                page.live = vec![format!("{name} {} by the reader, {age} old{rate}", show(reading.value))];
                if let Some((_, ahead)) = &ear.ahead {
                    page.live.extend(ahead.line.iter().cloned());
                    page.alarm = ahead.warn;
                }
            }
            Err(why) => {
                let last = watch.last().map(|last| format!(" Last {}.", show(last.value))).unwrap_or_default();
                page.live = vec![format!("{name} NOT SHOWN by the reader: {why}.{last}")];
                page.alarm = true;
            }
        }
    }

    /// The reading that Enter takes for a field, or why there is none.
    pub(super) fn offer(&self, field: &PromptField, awaited: bool) -> Option<Result<Offer, String>> {
        let ear = self.ear.as_ref()?;
        let column = ear.live.column_of(field)?;
        let (watch, scale) = (ear.live.watch(&column.name)?, ear.live.scale(&column.name)?);
        let reading = match watch.now(self.seconds()) {
            Ok(reading) => reading,
            Err(why) => return Some(Err(why)),
        };
        let quantity = scale.quantity(reading.value);
        let watched = awaited.then(|| self.machine.watched(&self.state, &column.name)).flatten();
        let fits = watched.is_none_or(|range| range.holds(&Value::Quantity(quantity.clone())) != Some(false));
        // What has been in the range and left it again has gone past: that is to be recorded too.
        let left = self.state.streams.get(&column.name).is_some_and(|stream| stream.turn == Turn::Left);
        if !fits && !left {
            return Some(Err(String::new()));
        }
        let (column, of) = (column.name.clone(), column.quantity.clone());
        let typed = as_typed(&self.machine.plan.units, scale, &reading, watch);
        Some(Ok(Offer { quantity, typed, fits, taken: TakenFrom { column, quantity: of, row: Some(reading.at) } }))
    }

    /// The rows that have come; none where they could not be kept.
    pub(super) fn read_from(&mut self, values: IndexMap<String, TakenFrom>) -> Option<Box<ReadFrom>> {
        self.ear.as_ref()?.live.read_from(values).ok().flatten().map(Box::new)
    }

    /// Whether readings came all through a time that was held.
    pub(super) fn cover(&mut self, from: f64, to: f64) -> Result<(), Fault> {
        let Some(ear) = &self.ear else { return Ok(()) };
        let mut whats = Vec::new();
        for column in &ear.live.columns {
            let Some(watch) = ear.live.watch(&column.name).filter(|_| ear.begun) else { continue };
            let (covered, gap) = watch.covers(from, to);
            whats.push(covered_as(covered, to - from, gap, &column.name));
        }
        whats.into_iter().try_for_each(|what| self.note(what))
    }
}
