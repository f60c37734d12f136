//! What made a record claim more than is true: each fault and each slip without which, all else alike, it does not.

use crate::at_hand::Passing;
use crate::bench::Bench;
use crate::outcome::Outcome;
use crate::people::Slip;
use crate::person::Person;
use crate::simulation::{Failed, Settings};

/// One thing that went wrong in a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cause {
    /// By its number.
    Fault(usize),
    Slip(Slipped),
}

/// A slip that happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slipped {
    pub slip: Slip,
    /// What was asked for then, and which try it was: names the draw.
    pub at: String,
    pub step: String,
}

/// A run whose record claims more than is true.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    pub outcome: Outcome,
    /// Each by itself; none where only several together did it, or the unit and the procedure without anybody's fault.
    pub causes: Vec<Cause>,
}

impl Settings {
    /// Repeats a run without each thing that went wrong in it.
    pub fn why(&self, bench: &Bench<'_>, run: u32) -> Result<Why, Failed> {
        let faults = self.faults(bench.model, run);
        let again = |faults: &[usize], spared: Option<Slipped>| {
            let person = Person::new(bench, self.draws(run), faults);
            let person = person.map(|person| person.spared(spared));
            person
                .and_then(|person| person.work(&mut Passing::new(&bench.machine)))
                .map_err(|problem| Failed { run, problem })
        };
        let outcome = again(&faults, None)?;
        let mut causes = Vec::new();
        for fault in &faults {
            let others: Vec<usize> = faults.iter().copied().filter(|other| other != fault).collect();
            if !again(&others, None)?.is_false_shown() {
                causes.push(Cause::Fault(*fault));
            }
        }
        for slipped in &outcome.slips {
            if !again(&faults, Some(slipped.clone()))?.is_false_shown() {
                causes.push(Cause::Slip(slipped.clone()));
            }
        }
        Ok(Why { outcome, causes })
    }
}
