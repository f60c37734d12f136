//! What is said to a job becomes an input of it, or a reason why not.

use std::time::Instant;

use super::told::{faulty, refused, unkept};
use super::work::{Running, Waiting, Work};
use super::{Speaker, Told};
use crate::compose::{self, Composed};
use crate::said::{Said, Wanted};
use crate::view::Awaits;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_job::{EvidenceRef, Given, Hold as Open, Kept, Moment, OpenJob, Origin, Pending, Phase, Via, What, When};

impl Work {
    pub(super) fn said(&mut self, said: Said, by: &Speaker) -> Told {
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

    pub(super) fn photo(&mut self, name: &str, bytes: &[u8], asks: Option<String>, by: &Speaker) -> Told {
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
}

/// What somebody may not say before they have taken the work over. A note or a word on a gate answers no step; of entries, which
/// may be a signature of another, the machine itself says whose they have to be.
fn needs_resuming(wanted: &Wanted) -> bool {
    !matches!(wanted, Wanted::Note(_) | Wanted::Accept { .. } | Wanted::Enter(_) | Wanted::Looked { .. })
}
