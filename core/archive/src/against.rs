//! Jobs of an archive under newer data: which of them are to be looked at again, without their journals.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use indexmap::IndexMap;

use standpipe_audit::{Audited, Recheck, on_all_cores};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::Plan;

use crate::again::{Again, jobs};
use crate::list::{Batch, List, about, unread};

/// What a plan is built for.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Wanted {
    pub family: String,
    pub variant: Option<String>,
    pub procedure: String,
    /// With the shop file at hand: the job is of that shop.
    pub with_shop: bool,
}

/// The plan under the newer data, and that without them, where there is one.
pub type Pair = (Plan, Option<Plan>);

/// What came of it.
#[derive(Debug, Default)]
pub struct Judged {
    /// Finished jobs that were looked at.
    pub finished: u64,
    /// Others, which are not judged.
    pub others: u64,
    /// Finished jobs of shops whose file is not at hand.
    pub without_shop: u64,
    /// Those of which something no longer holds, or could not be judged.
    pub found: Vec<Audited>,
    pub problems: Problems,
}

/// Judges all finished jobs again.
///
/// `shop`: id of the shop whose file is at hand. `plans_for`: errors say why there is none.
///
/// Errors: there is no archive that can be read.
pub fn against(
    archive: &Path,
    shop: Option<&str>,
    plans_for: &(dyn Fn(&Wanted) -> Result<Pair, String> + Sync),
) -> Result<Judged, Box<Diagnostic>> {
    let list = List::read(archive)?;
    let parts = on_all_cores(list.batches.len(), Plans::default, |plans, index| {
        let batch = &list.batches[index];
        let mut one = || of_batch(batch, archive, shop, plans_for, plans);
        catch_unwind(AssertUnwindSafe(&mut one)).unwrap_or_else(|_| {
            *plans = Plans::default();
            let path = archive.join(batch.path("jobs"));
            let message = format!("a defect of this program ended what was done for `{}`", path.display());
            Judged { problems: vec![about(&path, Code::UnreadableFile, message)], ..Judged::default() }
        })
    });
    let mut judged = Judged::default();
    for part in parts {
        judged.finished += part.finished;
        judged.others += part.others;
        judged.without_shop += part.without_shop;
        judged.found.extend(part.found);
        judged.problems.extend(part.problems);
    }
    Ok(judged)
}

/// As many kinds of work as a shop has in hand; each takes some megabytes.
const MOST: usize = 32;

#[derive(Default)]
struct Plans(IndexMap<Wanted, Result<Pair, String>>);

impl Plans {
    fn of(&mut self, wanted: &Wanted, plans_for: &dyn Fn(&Wanted) -> Result<Pair, String>) -> &Result<Pair, String> {
        if self.0.len() >= MOST && !self.0.contains_key(wanted) {
            self.0.shift_remove_index(0);
        }
        self.0.entry(wanted.clone()).or_insert_with(|| plans_for(wanted))
    }
}

fn of_batch(
    batch: &Batch,
    archive: &Path,
    shop: Option<&str>,
    plans_for: &dyn Fn(&Wanted) -> Result<Pair, String>,
    plans: &mut Plans,
) -> Judged {
    let mut judged = Judged::default();
    let all = match jobs(batch, archive) {
        Ok(all) => all,
        Err((table, why)) => {
            let problem = unread(&archive.join(batch.path(table)), why);
            let help = format!(
                "{} jobs were not judged; put the file back from a copy, or add them to the archive again",
                batch.jobs
            );
            judged.problems.push(problem.help(help));
            return judged;
        }
    };
    // A job without a shop lacks nothing.
    let with_shop = shop == Some(batch.shop.as_str());
    let has_shop = with_shop || batch.shop.is_empty();
    for job in all {
        if job.facts.state != standpipe_job::Phase::Finished.words() {
            judged.others += 1;
            continue;
        }
        judged.finished += 1;
        judged.without_shop += u64::from(!has_shop);
        let Again { facts, .. } = &job;
        let wanted = Wanted {
            family: facts.family.clone(),
            variant: facts.variant.clone(),
            procedure: facts.procedure.clone(),
            with_shop,
        };
        let recheck = match plans.of(&wanted, plans_for) {
            Ok((newer, at_hand)) => job.archived(has_shop).recheck(newer, at_hand.as_ref()),
            Err(why) => Recheck { missed: Vec::new(), not_judged: vec![why.clone()] },
        };
        if !recheck.missed.is_empty() || !recheck.not_judged.is_empty() {
            judged.found.push(audited(job, batch, recheck));
        }
    }
    judged
}

fn audited(job: Again, batch: &Batch, recheck: Recheck) -> Audited {
    let facts = job.facts;
    let folder = batch.path("").iter().take(2).collect::<PathBuf>();
    let mut audited = Audited::new(&folder);
    audited.job = facts.job;
    audited.subject = facts.subject;
    audited.invented = facts.invented;
    audited.simulated = facts.simulated;
    audited.state = standpipe_job::Phase::Finished.words();
    audited.closed = true;
    audited.at = Some(facts.last_at);
    audited.events = usize::try_from(facts.events).unwrap_or_default();
    audited.written_by = facts.tool;
    audited.hash = facts.seal.clone().unwrap_or(facts.head);
    audited.seal = facts.seal;
    audited.recheck = Some(recheck);
    audited.settle()
}
