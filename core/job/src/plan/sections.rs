//! Where in the work a step lies: the sections of a procedure are its outermost steps.

use super::Plan;
use standpipe_procedure::{Children, Step};

impl Plan {
    /// The sections of the main procedure, in order.
    pub fn sections(&self) -> &[Step] {
        &self.main().steps
    }

    /// Number, from 0, of the section that a step lies in; none for steps of procedures that are called.
    pub fn section_of(&self, step: &str) -> Option<usize> {
        self.sections().iter().position(|section| self.holds(section, step))
    }

    /// The step of the main procedure that follows one, if nothing comes between and it is to be done; nothing that is
    /// only computed.
    pub fn step_after(&self, step: &str) -> Option<&Step> {
        let at = self.order().iter().position(|id| id == step)?;
        let later = self.order().iter().skip(at + 1).filter_map(|id| self.step(id));
        later.into_iter().find(|step| step.kind.word() != "compute")
    }

    fn holds(&self, step: &Step, id: &str) -> bool {
        let holds = |steps: &[Step]| steps.iter().any(|inner| self.holds(inner, id));
        step.id.value == id
            || match step.kind.children() {
                Children::None => false,
                Children::Steps(steps) => holds(steps),
                Children::Procedure(procedure) => {
                    self.procedure(procedure.as_str()).is_some_and(|procedure| holds(&procedure.steps))
                }
            }
    }
}
