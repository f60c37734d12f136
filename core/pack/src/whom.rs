//! For whom a pack is made, and what is left out for them.

use standpipe_apart::Class;

/// Everybody gets what was measured, computed and judged, who signed by their ids, and all times: without these nothing could be
/// decided again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whom {
    /// Another workshop: everything.
    Workshop,
    /// Looks at the work: without what the job was taken in with, whose it is above all.
    Auditor,
    /// Without any text of a person, and without evidence, in which anything may be seen.
    Stranger,
}

impl Whom {
    pub fn word(self) -> &'static str {
        match self {
            Self::Workshop => "workshop",
            Self::Auditor => "auditor",
            Self::Stranger => "stranger",
        }
    }

    pub(crate) fn gets(self, class: Class) -> bool {
        match self {
            Self::Workshop => true,
            Self::Auditor => class != Class::Intake,
            Self::Stranger => false,
        }
    }

    pub(crate) fn gets_evidence(self) -> bool {
        self != Self::Stranger
    }
}
