//! The thread of a job: what it waits for, and what it shows.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};

use indexmap::IndexMap;
use tokio::sync::watch;

use super::{Begin, Order};
use crate::followed::{self, Followed};
use crate::view::{Aside, Awaits, Begun, Hold, View, view};
use standpipe_job::{EvidenceRef, Given, Hold as Open, Journal, OpenJob};

/// How often somebody else's writing is looked for.
const BEAT: Duration = Duration::from_secs(1);
/// A job that nobody looks at is let go after this time.
const IDLE: Duration = Duration::from_secs(300);

/// What is known beside the journal: none of it counts, all of it may be lost.
#[derive(Default)]
pub(super) struct Apart {
    pub(super) awaits: Option<Waiting>,
    pub(super) begun: Option<Running>,
    /// Kept for the entry under way: by device, and for which ask.
    pub(super) photos: Vec<(String, String, EvidenceRef)>,
}

pub(super) struct Waiting {
    pub(super) shown: Awaits,
    pub(super) given: Given,
}

pub(super) struct Running {
    pub(super) device: String,
    pub(super) asks: String,
    pub(super) since: Instant,
}

pub(super) struct Work {
    pub(super) id: String,
    pub(super) dir: PathBuf,
    pub(super) begin: Option<Begin>,
    pub(super) job: Option<OpenJob>,
    pub(super) aside: Apart,
    pub(super) followed: Followed,
    views: watch::Sender<Option<Arc<View>>>,
    changed: watch::Sender<u64>,
    version: u64,
}

impl Work {
    pub(super) fn new(
        id: String,
        dir: PathBuf,
        begin: Option<Begin>,
        followed: Followed,
        views: watch::Sender<Option<Arc<View>>>,
        changed: watch::Sender<u64>,
    ) -> Self {
        Self { id, dir, begin, job: None, aside: Apart::default(), followed, views, changed, version: 0 }
    }

    pub(super) fn run(&mut self, row: &Receiver<Order>) {
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
