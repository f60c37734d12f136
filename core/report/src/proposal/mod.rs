//! What finished jobs say of the values of their family, beside what its data say: for whoever keeps them. Nothing is changed by it.

mod overlay;
mod spread;
mod text;

use std::path::{Path, PathBuf};

use indexmap::IndexSet;
use jiff::civil::Date;
use serde::Serialize;

pub use overlay::overlay;
pub use spread::{Found, Standing};
pub use text::text;

use crate::history::{self, Past, Told, said};
use standpipe_form::{self as form, Field};
use standpipe_job::journal::{below, finished_at};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{Moment, State, replay};
use standpipe_procedure::proposes::{By, Proposed};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

/// With fewer jobs nothing is said of a value: own choice.
pub const FEWEST: usize = 5;

#[derive(Clone, Debug, Serialize)]
pub struct Proposals {
    pub family: String,
    pub variant: Option<String>,
    pub procedure: String,
    pub invented: bool,
    /// The jobs were answered by a model: there were no others.
    pub simulated: bool,
    /// Jobs of this family and variant that were finished by this procedure.
    pub jobs: usize,
    /// When the first and the last of them were finished.
    pub between: Option<(Date, Date)>,
    /// Jobs that nothing was taken from.
    pub aside: Vec<Aside>,
    /// Share of such intervals that hold what they are of, all of these facts together.
    pub confidence: f64,
    pub facts: Vec<Proposal>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Aside {
    pub job: String,
    pub why: String,
}

/// What the jobs say of one value of the family.
#[derive(Clone, Debug, Serialize)]
pub struct Proposal {
    /// Path in the form: `capacity.service`.
    pub fact: String,
    /// The question of the form.
    pub asks: String,
    pub now: Value,
    pub jobs: Vec<OfJob>,
    /// Jobs that say nothing of it.
    pub aside: Vec<Aside>,
    /// Nothing where too few jobs say something.
    pub found: Option<Found>,
}

#[derive(Clone, Debug, Serialize)]
pub struct OfJob {
    pub job: String,
    pub value: Quantity,
}

/// A finished job of the family.
struct Job {
    id: String,
    folder: PathBuf,
    at: Moment,
    past: Past,
    state: State,
}

/// Of the finished jobs below a folder, by today's procedure of this plan.
pub fn gather(plan: &Plan, folder: &Path) -> Proposals {
    let mut aside = Vec::new();
    let found = finished(plan, folder, &mut aside).into_iter();
    let (by_models, real): (Vec<Job>, Vec<Job>) = found.partition(|job| job.past.0.simulated().is_some());
    let simulated = real.is_empty() && !by_models.is_empty();
    let jobs = if simulated {
        by_models
    } else {
        aside.extend(by_models.iter().map(|job| job.aside("a model answered it")));
        real
    };
    let mut facts: Vec<Proposal> =
        plan.main().proposes.iter().filter_map(|proposed| said_of(plan, proposed, &jobs)).collect();
    let told = facts.iter().filter(|fact| fact.jobs.len() >= FEWEST).count();
    for fact in &mut facts {
        fact.found = spread::found(plan, fact, told);
    }
    Proposals {
        family: plan.family.id.clone(),
        variant: plan.job.variant.clone(),
        procedure: plan.procedure.clone(),
        invented: plan.invented || jobs.iter().any(|job| job.past.0.invented),
        simulated,
        jobs: jobs.len(),
        between: jobs.first().zip(jobs.last()).map(|(first, last)| (first.at.date(), last.at.date())),
        aside,
        confidence: spread::CONFIDENCE,
        facts,
    }
}

/// In the order of time.
fn finished(plan: &Plan, folder: &Path, aside: &mut Vec<Aside>) -> Vec<Job> {
    let mut found: Vec<_> = below(folder).into_iter().filter_map(|at| Some((finished_at(&at)?, at))).collect();
    found.sort_by(|a, b| a.0.cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    let (mut jobs, mut seen) = (Vec::new(), IndexSet::new());
    for (at, folder) in found {
        let Some(id) = history::of_family(plan, &folder) else { continue };
        let left = |why: String| Aside { job: id.clone(), why };
        match history::read(&folder) {
            Err(why) => aside.push(left(why)),
            Ok(past) if past.0.procedure != plan.procedure => {
                aside.push(left(format!("it went by `{}`", past.0.procedure)));
            }
            Ok(past) => {
                let state = replay::replay(&past.1);
                if state.variant != plan.job.variant {
                    continue;
                }
                // A folder that was copied is no further job.
                if !seen.insert((id.clone(), past.0.hash.clone())) {
                    aside.push(left(format!("there is a second copy in {}", folder.display())));
                    continue;
                }
                jobs.push(Job { id, folder, at, past, state });
            }
        }
    }
    jobs
}

impl Job {
    fn aside(&self, why: impl Into<String>) -> Aside {
        Aside { job: self.id.clone(), why: why.into() }
    }

    /// What it comes to. Errors: why it comes to nothing.
    fn value(&self, plan: &Plan, proposed: &Proposed) -> Result<Quantity, String> {
        let (past, records) = &self.past;
        let names = JobNames::in_the_end(past, &self.state);
        if let Some(must) = &proposed.must {
            match must.evaluate(&plan.scripts, &names).map_err(said)? {
                Value::Truth(true) => {}
                _ => return Err("the procedure does not count it".to_owned()),
            }
        }
        let value = match &proposed.by {
            By::Value(value) => value.evaluate(&plan.scripts, &names).map_err(said)?,
            By::Learned(id) => {
                let learned = plan.main().learned.get(id.as_str()).ok_or("the procedure has no way to work it out")?;
                Told::of(plan, learned, &self.id, (past, &self.state, records), &self.folder)?.value
            }
        };
        match value {
            Value::Quantity(quantity) if quantity.si.is_finite() => Ok(quantity),
            _ => Err("it comes to no quantity".to_owned()),
        }
    }
}

fn said_of(plan: &Plan, proposed: &Proposed, jobs: &[Job]) -> Option<Proposal> {
    let fact = form::snake(&proposed.fact);
    let field: &Field = plan.form.field(&fact)?;
    let now = plan.family.known(plan.job.variant.as_deref()).value(&fact).cloned().unwrap_or(Value::Unknown);
    let (mut told, mut aside) = (Vec::new(), Vec::new());
    for job in jobs {
        match job.value(plan, proposed) {
            Ok(value) => told.push(OfJob { job: job.id.clone(), value }),
            Err(why) => aside.push(job.aside(why)),
        }
    }
    Some(Proposal { fact, asks: field.question(), now, jobs: told, aside, found: None })
}
