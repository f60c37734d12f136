//! What finished jobs say of the values of their family, beside what its data say: for whoever keeps them. Nothing is changed by it.

mod overlay;
mod spread;
mod text;

use std::path::Path;

use indexmap::{IndexMap, IndexSet};
use jiff::civil::Date;
use serde::Serialize;

pub use overlay::overlay;
pub use spread::{Found, Standing};
pub use text::{silent, text};

use crate::history::{self, Past, Told, said};
use standpipe_form::{self as form, Field};
use standpipe_job::names::JobNames;
use standpipe_job::plan::{Kept, Plan};
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

/// What finished jobs were done by and on: jobs of several kinds are not alike.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize)]
pub struct Work {
    pub family: String,
    pub variant: Option<String>,
    pub procedure: String,
}

/// What jobs of every kind say.
#[derive(Default)]
pub struct Gathered {
    /// In the order of their names; each with today's plan.
    pub said: Vec<(Proposals, Plan)>,
    pub silent: Vec<Silent>,
}

/// Work whose jobs were not asked.
#[derive(Clone, Debug, Serialize)]
pub struct Silent {
    /// None for jobs that could not be read.
    pub work: Option<Work>,
    pub jobs: usize,
    pub why: String,
}

/// Of the finished jobs below a folder, by today's procedure of this plan.
pub fn gather(plan: &Plan, folder: &Path) -> Proposals {
    let (mut gathering, mut plans) = (Gathering::new(plan.clone()), Kept::default());
    for (at, folder) in history::finished(folder) {
        let Some(id) = history::of_family(plan, &folder) else { continue };
        match history::read(&folder, &mut plans) {
            Err(why) => gathering.aside.push(Aside { job: id, why }),
            Ok(past) if past.0.procedure != plan.procedure => {
                gathering.aside.push(Aside { job: id, why: format!("it went by `{}`", past.0.procedure) });
            }
            Ok(past) => {
                let state = replay::replay(&past.1);
                if state.variant == plan.job.variant {
                    gathering.hear(&past, &state, at, &folder);
                }
            }
        }
    }
    gathering.said().0
}

/// Of the finished jobs below a folder, whatever they were done by and on. `plan_of`: today's plan; errors say why there is none.
pub fn gather_all(folder: &Path, plan_of: &dyn Fn(&Work) -> Result<Plan, String>) -> Gathered {
    let mut all: IndexMap<Work, (usize, Result<Gathering, String>)> = IndexMap::new();
    let (mut gathered, mut plans) = (Gathered::default(), Kept::default());
    for (at, folder) in history::finished(folder) {
        let past = match history::read(&folder, &mut plans) {
            Ok(past) => past,
            Err(why) => {
                gathered.silent.push(Silent { work: None, jobs: 1, why: format!("{}: {why}", folder.display()) });
                continue;
            }
        };
        let state = replay::replay(&past.1);
        let (family, procedure) = (past.0.family.id.clone(), past.0.procedure.clone());
        let work = Work { family, variant: state.variant.clone(), procedure };
        let new = || {
            let plan = plan_of(&work)?;
            let asks = !plan.main().proposes.is_empty();
            if asks { Ok(Gathering::new(plan)) } else { Err("it proposes nothing".to_owned()) }
        };
        let (jobs, gathering) = all.entry(work.clone()).or_insert_with(|| (0, new()));
        *jobs += 1;
        if let Ok(gathering) = gathering {
            gathering.hear(&past, &state, at, &folder);
        }
    }
    all.sort_by(|one, _, other, _| one.order().cmp(&other.order()));
    for (work, (jobs, gathering)) in all {
        match gathering {
            Ok(gathering) => gathered.said.push(gathering.said()),
            Err(why) => gathered.silent.push(Silent { work: Some(work), jobs, why }),
        }
    }
    gathered
}

impl Work {
    /// `heron/deep-pan`, as a family is named.
    pub fn of(&self) -> String {
        match &self.variant {
            Some(variant) => format!("{}/{variant}", self.family),
            None => self.family.clone(),
        }
    }

    fn order(&self) -> (String, &str) {
        (self.of(), &self.procedure)
    }
}

/// Jobs of one kind, heard one after the other: what they come to is kept, they are not.
struct Gathering {
    plan: Plan,
    jobs: Vec<Heard>,
    aside: Vec<Aside>,
    /// Number and hash of the plan.
    seen: IndexSet<(String, String)>,
}

/// What a finished job comes to.
struct Heard {
    id: String,
    at: Moment,
    simulated: bool,
    invented: bool,
    /// For each fact that the procedure proposes; or why it comes to nothing.
    values: Vec<Result<Quantity, String>>,
}

impl Gathering {
    fn new(plan: Plan) -> Self {
        Self { plan, jobs: Vec::new(), aside: Vec::new(), seen: IndexSet::new() }
    }

    fn hear(&mut self, past: &Past, state: &State, at: Moment, folder: &Path) {
        let id = past.0.job.id.clone();
        // A folder that was copied is no further job.
        if !self.seen.insert((id.clone(), past.0.hash.clone())) {
            let why = format!("there is a second copy in {}", folder.display());
            self.aside.push(Aside { job: id, why });
            return;
        }
        let job = Job { plan: &self.plan, id: &id, past, state, folder };
        let values = self.plan.main().proposes.iter().map(|proposed| job.value(proposed)).collect();
        let (simulated, invented) = (past.0.simulated().is_some(), past.0.invented);
        self.jobs.push(Heard { id, at, simulated, invented, values });
    }

    fn said(self) -> (Proposals, Plan) {
        let Self { plan, jobs, mut aside, .. } = self;
        let (by_models, real): (Vec<Heard>, Vec<Heard>) = jobs.into_iter().partition(|job| job.simulated);
        let simulated = real.is_empty() && !by_models.is_empty();
        let jobs = if simulated {
            by_models
        } else {
            let why = || "a model answered it".to_owned();
            aside.extend(by_models.into_iter().map(|job| Aside { job: job.id, why: why() }));
            real
        };
        let proposes = plan.main().proposes.iter().enumerate();
        let mut facts: Vec<Proposal> =
            proposes.filter_map(|(at, proposed)| said_of(&plan, at, proposed, &jobs)).collect();
        let told = facts.iter().filter(|fact| fact.jobs.len() >= FEWEST).count();
        for fact in &mut facts {
            fact.found = spread::found(&plan, fact, told);
        }
        let said = Proposals {
            family: plan.family.id.clone(),
            variant: plan.job.variant.clone(),
            procedure: plan.procedure.clone(),
            invented: plan.invented || jobs.iter().any(|job| job.invented),
            simulated,
            jobs: jobs.len(),
            between: jobs.first().zip(jobs.last()).map(|(first, last)| (first.at.date(), last.at.date())),
            aside,
            confidence: spread::CONFIDENCE,
            facts,
        };
        (said, plan)
    }
}

/// A finished job, and today's plan to ask it by.
struct Job<'a> {
    plan: &'a Plan,
    id: &'a str,
    past: &'a Past,
    state: &'a State,
    folder: &'a Path,
}

impl Job<'_> {
    /// What it comes to. Errors: why it comes to nothing.
    fn value(&self, proposed: &Proposed) -> Result<Quantity, String> {
        let (plan, (past, records)) = (self.plan, self.past);
        let names = JobNames::in_the_end(past, self.state);
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
                Told::of(plan, learned, self.id, (past, self.state, records), self.folder)?.value
            }
        };
        match value {
            Value::Quantity(quantity) if quantity.si.is_finite() => Ok(quantity),
            _ => Err("it comes to no quantity".to_owned()),
        }
    }
}

fn said_of(plan: &Plan, at: usize, proposed: &Proposed, jobs: &[Heard]) -> Option<Proposal> {
    let fact = form::snake(&proposed.fact);
    let field: &Field = plan.form.field(&fact)?;
    let now = plan.family.known(plan.job.variant.as_deref()).value(&fact).cloned().unwrap_or(Value::Unknown);
    let (mut told, mut aside) = (Vec::new(), Vec::new());
    for job in jobs {
        match &job.values[at] {
            Ok(value) => told.push(OfJob { job: job.id.clone(), value: value.clone() }),
            Err(why) => aside.push(Aside { job: job.id.clone(), why: why.clone() }),
        }
    }
    Some(Proposal { fact, asks: field.question(), now, jobs: told, aside, found: None })
}
