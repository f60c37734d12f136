//! Corrected data for a job that is under way, or is held up by its data.

use super::{Given, Kept, NotKept, OpenJob};
use crate::Machine;
use crate::event::Origin;
use crate::input::{Input, Refusal, What};
use crate::moment::Moment;
use crate::plan::{Plan, changed, unfit};
use standpipe_diagnostic::Code;

impl OpenJob {
    /// Goes on by another plan: with the same facts of the job and the same shop, and whatever plugins have become. All that
    /// was computed, judged and settled is so again by it; what no longer holds is due again.
    ///
    /// Errors: nothing has changed; who decides it may not; entries that the new plan has no place for; the disk. The job
    /// goes on by its old plan then.
    pub fn amend(&mut self, plan: Plan, by: &str, because: &str, now: Moment) -> Result<Kept, NotKept> {
        let old = &self.machine.plan;
        if self.journal.is_none() {
            return Err(NotKept::Looking);
        }
        let changed = changed(&old.snapshot, &plan.snapshot);
        if changed.is_empty() {
            return Err(
                Refusal::new(Code::UnfitAnswer, "the data at hand are the ones that the job already has").into()
            );
        }
        if !old.may_amend(by) {
            let roles: Vec<&str> = old.main().may_accept.iter().map(|role| role.value.as_str()).collect();
            return Err(Refusal::new(
                Code::UnknownPerson,
                format!("{by} may not decide which data a job goes on with"),
            )
            .expected(format!("someone in the role {}", roles.join(" or ")))
            .into());
        }
        if let Some(why) = unfit(old, &plan, &self.records, &self.state) {
            return Err(Refusal::new(Code::UnfitAnswer, format!("the job can't go on by these data: {why}"))
                .help("add to the data rather than take away, or end the job and begin another that follows it")
                .into());
        }
        let kept = plan.snapshot.kept();
        let what = What::Amend { plan: plan.hash.clone(), changed, because: because.to_owned() };
        let machine = Machine::new(plan);
        let given = Given::typed(by, what);
        let input = Input { at: now, entered_at: None, by: given.by, origin: Origin::Typed, what: given.what };
        let records = machine.decide(&self.state, &input)?;
        if let Some(journal) = &self.journal {
            journal.keep_plan(&kept).map_err(NotKept::Disk)?;
        }
        let kept = self.record((None, None), records)?;
        self.machine = machine;
        if let Some(journal) = &mut self.journal {
            journal.keeps_apart(&self.machine.plan);
        }
        Ok(kept)
    }
}
