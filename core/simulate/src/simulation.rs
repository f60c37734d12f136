//! Many jobs, on as many threads as there are cores; the same on one.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Mutex, PoisonError};

use standpipe_diagnostic::Diagnostic;

use crate::at_hand::Passing;
use crate::bench::Bench;
use crate::draw::Draws;
use crate::model::Model;
use crate::outcome::Outcome;
use crate::person::Person;
use crate::tally::Tally;

/// What is drawn.
#[derive(Clone, Debug)]
pub struct Settings {
    pub seed: u64,
    /// Faults that every job has, by number.
    pub always: Vec<usize>,
    /// Faults that come by chance.
    pub by_chance: Vec<usize>,
    /// So many times the chances of faults; those of people are in [`crate::People`].
    pub rates: f64,
    /// Whether each job with a fault is done again without it.
    pub paired: bool,
}

/// A job that could not be done to its end: which, and why.
#[derive(Debug)]
pub struct Failed {
    pub run: u32,
    pub problem: Box<Diagnostic>,
}

impl Failed {
    /// With the run and the seed, so that it can be done again alone.
    pub fn told(self, settings: &Settings) -> Diagnostic {
        let Failed { run, problem } = self;
        let again = format!("do it again alone: `--seed {} --runs {run}..{}`", settings.seed, run + 1);
        let help = match &problem.help {
            Some(help) => format!("{help}; {again}"),
            None => again,
        };
        let message = format!("run {run} of seed {}: {}", settings.seed, problem.message);
        Diagnostic { message, ..*problem }.help(help)
    }
}

/// Runs that a thread takes at once.
const AT_ONCE: u32 = 32;

impl Settings {
    pub(crate) fn draws(&self, run: u32) -> Draws {
        Draws { seed: self.seed, run }
    }

    /// The faults of a run.
    pub fn faults(&self, model: &Model, run: u32) -> Vec<usize> {
        let draws = self.draws(run);
        let happens = |index: &usize| {
            let drawn = model.faults.get_index(*index);
            drawn.is_some_and(|(id, fault)| draws.happens((fault.chance * self.rates).min(1.0), "fault", id))
        };
        let mut all = self.always.clone();
        all.extend(self.by_chance.iter().copied().filter(|index| !self.always.contains(index)).filter(happens));
        all.sort_unstable();
        all
    }

    /// One job, by itself.
    pub fn one(&self, bench: &Bench<'_>, run: u32) -> Result<Outcome, Failed> {
        self.with(bench, run, &self.faults(bench.model, run))
    }

    fn with(&self, bench: &Bench<'_>, run: u32, faults: &[usize]) -> Result<Outcome, Failed> {
        let mut job = Passing::new(&bench.machine);
        let person = Person::new(bench, self.draws(run), faults);
        person.and_then(|person| person.work(&mut job)).map_err(|problem| Failed { run, problem })
    }

    fn add(&self, bench: &Bench<'_>, run: u32, tally: &mut Tally) -> Result<(), Failed> {
        let faults = self.faults(bench.model, run);
        let outcome = self.with(bench, run, &faults)?;
        let mut without = Vec::new();
        for fault in faults.iter().filter(|_| self.paired) {
            let others: Vec<usize> = faults.iter().copied().filter(|other| other != fault).collect();
            without.push((*fault, self.with(bench, run, &others)?));
        }
        tally.add(&outcome, &without);
        Ok(())
    }

    /// Does all runs of a range and adds them to the tally. Each thread has a bench of its own, which `bench` makes.
    ///
    /// Stops early where `stop` is set, with what is known by then. Errors: the first run, by its number, that could not be
    /// done; a bench that can't be made is `None`.
    pub fn run<'m>(
        &self,
        runs: Range<u32>,
        threads: usize,
        stop: &AtomicBool,
        done: &AtomicU32,
        bench: &(dyn Fn() -> Option<Bench<'m>> + Sync),
        tally: &mut Tally,
    ) -> Result<(), Option<Failed>> {
        let next = AtomicU32::new(runs.start);
        let empty = Tally::new(tally.harms.len(), tally.faults.len());
        let failed: Mutex<Option<Option<Failed>>> = Mutex::new(None);
        let fails = |this: Option<Failed>| {
            let mut known = failed.lock().unwrap_or_else(PoisonError::into_inner);
            let run = |failed: &Option<Failed>| failed.as_ref().map_or(0, |failed| failed.run);
            if known.as_ref().is_none_or(|known| run(&this) < run(known)) {
                *known = Some(this);
            }
            stop.store(true, Ordering::Relaxed);
        };
        let work = || {
            let mut own = empty.clone();
            let Some(bench) = bench() else {
                fails(None);
                return own;
            };
            loop {
                let first = next.fetch_add(AT_ONCE, Ordering::Relaxed);
                for run in first..first.saturating_add(AT_ONCE) {
                    if run >= runs.end || stop.load(Ordering::Relaxed) {
                        return own;
                    }
                    if let Err(failed) = self.add(&bench, run, &mut own) {
                        fails(Some(failed));
                        return own;
                    }
                    done.fetch_add(1, Ordering::Relaxed);
                }
            }
        };
        std::thread::scope(|scope| {
            let threads: Vec<_> = (0..threads.max(1)).map(|_| scope.spawn(work)).collect();
            for thread in threads {
                if let Ok(own) = thread.join() {
                    tally.merge(own);
                }
            }
        });
        match failed.into_inner().unwrap_or_else(PoisonError::into_inner) {
            Some(failed) => Err(failed),
            None => Ok(()),
        }
    }
}
