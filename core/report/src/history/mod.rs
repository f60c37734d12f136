//! What finished jobs tell of their family, for the card of a later one. No journal depends on it: a card is no record.

mod course;
mod told;

use std::path::{Path, PathBuf};

use indexmap::{IndexMap, IndexSet};

pub use course::Origin;
pub use told::Told;
pub(crate) use told::said;

use standpipe_diagnostic::{Diagnostic, Problems};
use standpipe_job::journal::{LARGEST_PLAN, PLAN, below, finished_at};
use standpipe_job::plan::{Kept, Plan, RawJob, facts_of};
use standpipe_job::{Journal, Moment, replay};
use standpipe_procedure::{Learned, Procedure};

/// Jobs of one family that are looked at, the newest first: what needs more to tell it is not told by these.
const MOST: usize = 50;

/// What was looked at, and what it told.
#[derive(Debug, Default)]
pub struct Earlier {
    /// Where journals were looked for; nowhere if nobody said where they are.
    pub folder: Option<PathBuf>,
    /// By procedure and id in its `learned:`, the newest first.
    told: IndexMap<(String, String), Vec<Told>>,
    /// Finished jobs of the family that told nothing, and why, the newest first.
    silent: IndexMap<(String, String), Vec<(String, String)>>,
    /// Finished jobs of the family that were looked at.
    pub looked_at: usize,
}

impl Earlier {
    /// Looks for what the card of this plan takes from earlier jobs. Reads nothing if it takes nothing.
    pub fn look(plan: &Plan, folder: Option<&Path>) -> Self {
        let mut earlier = Self { folder: folder.map(Path::to_owned), ..Self::default() };
        let asked = asked(plan);
        let Some(folder) = folder.filter(|_| !asked.is_empty()) else { return earlier };
        let mut plans = Kept::default();
        for (_, folder) in finished(folder).into_iter().rev() {
            let Some(job) = of_family(plan, &folder) else { continue };
            earlier.looked_at += 1;
            earlier.hear(plan, &asked, &job, &folder, &mut plans);
            if earlier.looked_at == MOST || earlier.is_enough(plan, &asked) {
                break;
            }
        }
        earlier
    }

    fn hear(&mut self, plan: &Plan, asked: &[Asked<'_>], job: &str, folder: &Path, plans: &mut Kept) {
        let read = read(folder, plans);
        for Asked { procedure, id, learned } in asked {
            let key = (procedure.id.value.clone(), (*id).to_owned());
            let told = read.as_ref().map_err(Clone::clone).and_then(|(past, records)| {
                let state = replay::replay(records);
                Told::of(plan, learned, job, (past, &state, records.as_slice()), folder)
            });
            match told {
                Ok(told) => self.told.entry(key).or_default().push(told),
                Err(why) => self.silent.entry(key).or_default().push((job.to_owned(), why)),
            }
        }
    }

    fn is_enough(&self, plan: &Plan, asked: &[Asked<'_>]) -> bool {
        let variants: Vec<&str> = match &plan.job.variant {
            Some(variant) => vec![variant],
            None => plan.family.variants.keys().map(String::as_str).collect(),
        };
        asked.iter().all(|Asked { procedure, id, .. }| {
            let told = self.told.get(&(procedure.id.value.clone(), (*id).to_owned()));
            let has = |variant: &str| {
                told.is_some_and(|told| told.iter().any(|told| told.variant.as_deref() == Some(variant)))
            };
            if variants.is_empty() { told.is_some() } else { variants.iter().all(|variant| has(variant)) }
        })
    }

    /// The newest of the same variant, else the newest of any.
    pub fn told(&self, procedure: &str, id: &str, variant: Option<&str>) -> Option<&Told> {
        let told = self.told.get(&(procedure.to_owned(), id.to_owned()))?;
        let same = told.iter().find(|told| variant.is_some() && told.variant.as_deref() == variant);
        same.or_else(|| told.first())
    }

    /// Why the newest job did not tell it, by the number of that job.
    pub fn silent(&self, procedure: &str, id: &str) -> Option<&(String, String)> {
        self.silent.get(&(procedure.to_owned(), id.to_owned()))?.first()
    }
}

struct Asked<'a> {
    procedure: &'a Procedure,
    id: &'a str,
    learned: &'a Learned,
}

fn asked(plan: &Plan) -> Vec<Asked<'_>> {
    let mut asked = Vec::new();
    for procedure in plan.procedures.values() {
        let calls = procedure.card.iter().filter_map(|block| block.compute.as_ref());
        let ids: IndexSet<&str> = calls.flat_map(|call| call.earlier.values()).map(|id| id.as_str()).collect();
        let found = ids.into_iter().filter_map(|id| Some(Asked { procedure, id, learned: procedure.learned.get(id)? }));
        asked.extend(found);
    }
    asked
}

/// The number of a job of the same family other than this one.
pub(crate) fn of_family(plan: &Plan, folder: &Path) -> Option<String> {
    let text = standpipe_disk::text(&folder.join(PLAN), LARGEST_PLAN).ok()?;
    let job = RawJob::read(&facts_of(&text, PLAN).ok()?.job.source(), &mut Problems::new())?;
    (job.family.value == plan.family.id && job.id.value != plan.job.id).then_some(job.id.value)
}

pub(crate) type Past = (Plan, Vec<standpipe_job::Record>);

/// Finished jobs below a folder, the first to be finished first. The names of folders settle what was finished at the same time, so
/// that the same folder tells the same.
pub(crate) fn finished(folder: &Path) -> Vec<(Moment, PathBuf)> {
    let mut finished: Vec<_> = below(folder).into_iter().filter_map(|at| Some((finished_at(&at)?, at))).collect();
    finished.sort();
    finished
}

/// A journal that does not hold tells nothing. `plans`: of those before it.
pub(crate) fn read(folder: &Path, plans: &mut Kept) -> Result<Past, String> {
    let contents = Journal::read(folder).map_err(|fault| fault.message)?;
    if contents.problems.iter().any(Diagnostic::is_error) {
        return Err("its journal does not hold".to_owned());
    }
    let name = folder.join(PLAN).display().to_string();
    let plan = plans
        .plan(&contents.plan, &name)
        .map_err(|faults| faults.first().map_or_else(String::new, |one| one.message.clone()))?;
    Ok((plan, contents.records))
}
