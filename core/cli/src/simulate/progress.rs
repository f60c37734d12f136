//! How far a simulation is, beside its result.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::{Duration, Instant};

use crate::context::Context;

pub struct Progress<'a> {
    context: &'a Context,
    runs: Range<u32>,
    done: &'a AtomicU32,
    stop: &'a AtomicBool,
    interrupted: &'a AtomicBool,
}

/// How often it is looked at, and how often something is said.
const LOOK: Duration = Duration::from_millis(50);
const SAY: Duration = Duration::from_secs(10);

impl<'a> Progress<'a> {
    pub fn new(
        context: &'a Context,
        runs: Range<u32>,
        done: &'a AtomicU32,
        stop: &'a AtomicBool,
        interrupted: &'a AtomicBool,
    ) -> Self {
        Self { context, runs, done, stop, interrupted }
    }

    /// Watches while something is done on another thread; an interrupt makes it stop with what is known.
    pub fn during<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        let over = AtomicBool::new(false);
        std::thread::scope(|scope| {
            let worker = scope.spawn(|| {
                let result = work();
                over.store(true, Ordering::Relaxed);
                result
            });
            let (begun, mut said) = (Instant::now(), Instant::now());
            while !over.load(Ordering::Relaxed) && !worker.is_finished() {
                std::thread::sleep(LOOK);
                if self.interrupted.load(Ordering::Relaxed) {
                    self.stop.store(true, Ordering::Relaxed);
                }
                if said.elapsed() >= SAY {
                    said = Instant::now();
                    self.say(begun.elapsed());
                }
            }
            match worker.join() {
                Ok(result) => result,
                Err(fault) => std::panic::resume_unwind(fault),
            }
        })
    }

    fn say(&self, since: Duration) {
        let (done, all) = (self.done.load(Ordering::Relaxed), self.runs.end - self.runs.start);
        let left = since.as_secs_f64() * f64::from(all.saturating_sub(done)) / f64::from(done.max(1));
        self.context.note(&format!("{done} of {all} jobs, about {left:.0} s to go"));
    }
}
