//! Corrected data for a job that is under way: everything is judged again by them, and nothing that was entered is rewritten.

use super::{Changed, Decision, needs_reason};
use crate::event::Event;
use crate::input::Refusal;
use standpipe_diagnostic::Code;

impl Decision<'_> {
    /// The machine that decides this has the corrected plan already. What led to the old verdicts stays in the journal.
    pub(super) fn amend(&mut self, plan: &str, changed: &[String], because: &str) -> Result<(), Refusal> {
        needs_reason(because)?;
        if plan != self.plan.hash {
            return Err(Refusal::new(Code::UnfitAnswer, "these are not the data that the job goes on with"));
        }
        self.emit(Event::Amended { plan: plan.to_owned(), changed: changed.to_vec(), because: because.to_owned() });
        self.follow(Changed::everything(), |_, _| true);
        Ok(())
    }
}
