//! How one job came out: what its record claims, and what is true.

use crate::cause::Slipped;
use crate::spread_of::OfJob;
use standpipe_job::event::Witness;
use standpipe_job::{Event, Phase, Record, State, Verdict};
use standpipe_quantity::Quantity;

/// What a record claims of its job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Claim {
    /// Finished, every gate met, nothing left out or accepted, every witness there.
    Shown,
    /// Finished, and something of it is not shown or not met.
    NotShown,
    /// It stands where nobody may go on, or nobody knew how to.
    Stopped,
    Abandoned,
}

impl Claim {
    pub const ALL: [Claim; 4] = [Claim::Shown, Claim::NotShown, Claim::Stopped, Claim::Abandoned];

    pub fn words(self) -> &'static str {
        match self {
            Claim::Shown => "shown",
            Claim::NotShown => "not shown",
            Claim::Stopped => "stopped",
            Claim::Abandoned => "abandoned",
        }
    }
}

/// What came of one run.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    pub run: u32,
    pub claim: Claim,
    /// One truth for each harm of the model.
    pub harms: Vec<bool>,
    /// The number that matters in the end, where the model names one.
    pub matters: Option<Quantity>,
    /// Numbers of the faults that it had.
    pub faults: Vec<usize>,
    /// Steps whose gate was not met or not shown at some time, each once.
    pub unmet: Vec<String>,
    /// Steps that were asked, worked out or judged, each once.
    pub reached: Vec<String>,
    /// Where it stood in the end, for one that was stopped.
    pub stopped_at: Option<String>,
    pub seconds: f64,
    pub entries: u64,
    pub events: u64,
    /// What is told of a job that was finished: how long it took, and what procedure and model tell in numbers.
    pub numbers: Vec<OfJob>,
    /// The slips that happened, as often as they did.
    pub slips: Vec<Slipped>,
}

impl Outcome {
    pub fn harmed(&self) -> bool {
        self.harms.contains(&true)
    }

    /// It came to its end, whatever its record claims then.
    pub fn finished(&self) -> bool {
        matches!(self.claim, Claim::Shown | Claim::NotShown)
    }

    /// The worst there is: the record says that all is well, and it is not.
    pub fn is_false_shown(&self) -> bool {
        self.claim == Claim::Shown && self.harmed()
    }
}

/// What is noted of a job while it goes on, for its claim.
#[derive(Debug, Default)]
pub struct Noted {
    skipped: bool,
    alone: bool,
}

impl Noted {
    pub fn take(&mut self, record: &Record) {
        match &record.event {
            Event::Skipped { .. } => self.skipped = true,
            Event::Entered { witness: Some(Witness::Alone), .. } => self.alone = true,
            _ => {}
        }
    }

    pub fn claim(&self, state: &State) -> Claim {
        match state.phase {
            Phase::Abandoned => Claim::Abandoned,
            Phase::Finished => {
                let standing = state.verdicts.iter().filter(|passed| !passed.superseded);
                let bad = standing.filter(|passed| passed.verdict != Verdict::Met).count();
                if bad == 0 && !self.skipped && !self.alone { Claim::Shown } else { Claim::NotShown }
            }
            _ => Claim::Stopped,
        }
    }
}
