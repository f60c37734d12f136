//! A run that is kept: with a journal like any other job, and marked as no real one.

use std::path::Path;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_job::journal::evidence::keep_text;
use standpipe_job::plan::{Plan, Simulated};
use standpipe_job::{Hold, OpenJob};

use crate::bench::Bench;
use crate::draw::Draws;
use crate::outcome::Outcome;
use crate::person::{PHOTO, PHOTO_NAME, Person};
use crate::simulation::Settings;

impl Settings {
    /// What is kept of a run, and hashed, in its plan.
    pub fn stamp(&self, bench: &Bench<'_>, run: u32) -> Simulated {
        let faults = self.faults(bench.model, run);
        let name = |index: &usize| bench.model.faults.get_index(*index).map(|(id, _)| id.clone());
        Simulated {
            model: bench.model.id.clone(),
            people: bench.people.id.clone(),
            seed: self.seed,
            run,
            faults: faults.iter().filter_map(name).collect(),
        }
    }

    /// Does a run once more, with a journal in this folder; `plan` is that of its job. It ends as it did without.
    ///
    /// Errors: a folder that has a journal, or can't be written; a run that can't be done.
    pub fn keep(&self, bench: &Bench<'_>, run: u32, plan: Plan, dir: &Path) -> Result<Outcome, Problems> {
        let plan = plan.simulated_by(self.stamp(bench, run));
        let mut job = OpenJob::open(dir, Hold::Begin(Box::new(plan)))?;
        let place = Place::whole(&Source::new(dir.display().to_string(), ""));
        // Every photo of such a job is this one file.
        keep_text(dir, PHOTO_NAME, PHOTO, &place).map_err(|problem| vec![*problem])?;
        let draws = Draws { seed: self.seed, run };
        let person = Person::new(bench, draws, &self.faults(bench.model, run)).map_err(|problem| vec![*problem])?;
        person.work(&mut job).map_err(|problem| vec![*problem])
    }
}
