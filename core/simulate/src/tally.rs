//! What many jobs come to. All of it is whole numbers, so that parts can be added in any order.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::outcome::{Claim, Outcome};
use crate::people::Slip;
use crate::spread_of::SpreadOf;

/// Counts of jobs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tally {
    pub jobs: u64,
    /// By how jobs ended, in the order of [`Claim::ALL`].
    pub claims: [u64; 4],
    /// Harmed in any way, by how jobs ended.
    pub harmed: [u64; 4],
    /// By harm, then by how jobs ended.
    pub harms: Vec<[u64; 4]>,
    /// By fault.
    pub faults: Vec<FaultTally>,
    /// Jobs in which the gate of a step was not met at some time.
    pub unmet: BTreeMap<String, u64>,
    /// Where jobs were stopped.
    pub stopped_at: BTreeMap<String, u64>,
    pub reached: BTreeSet<String>,
    /// How often each slip happened.
    pub slips: BTreeMap<Slip, u64>,
    pub seconds: u64,
    pub entries: u64,
    pub events: u64,
    /// How the numbers of finished jobs are spread, by name.
    pub numbers: BTreeMap<String, SpreadOf>,
    /// Runs whose record claims that all is shown, and that are harmed.
    pub false_shown: BTreeSet<u32>,
}

/// Jobs that had one fault.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FaultTally {
    pub jobs: u64,
    /// Finished and shown, though harmed.
    pub false_shown: u64,
    /// Of these, jobs that are not so without the fault, all else alike.
    pub because_of_it: u64,
    /// Some gate was not met with it that was met without.
    pub noticed: u64,
    /// Gates that were not met only with it.
    pub stopped_by: BTreeMap<String, u64>,
}

impl Tally {
    pub fn new(harms: usize, faults: usize) -> Self {
        Self { harms: vec![[0; 4]; harms], faults: vec![FaultTally::default(); faults], ..Self::default() }
    }

    /// Whether both are of a model with as many harms and faults.
    pub fn is_like(&self, other: &Self) -> bool {
        (self.harms.len(), self.faults.len()) == (other.harms.len(), other.faults.len())
    }

    /// Adds a job; `without`: the same job without one of its faults, with the number of that.
    pub fn add(&mut self, outcome: &Outcome, without: &[(usize, Outcome)]) {
        let claim = at(outcome.claim);
        self.jobs += 1;
        self.claims[claim] += 1;
        self.harmed[claim] += u64::from(outcome.harmed());
        for (count, harmed) in self.harms.iter_mut().zip(&outcome.harms) {
            count[claim] += u64::from(*harmed);
        }
        for step in &outcome.unmet {
            *self.unmet.entry(step.clone()).or_default() += 1;
        }
        if let Some(step) = &outcome.stopped_at {
            *self.stopped_at.entry(step.clone()).or_default() += 1;
        }
        for step in &outcome.reached {
            if !self.reached.contains(step) {
                self.reached.insert(step.clone());
            }
        }
        for slip in &outcome.slips {
            *self.slips.entry(slip.slip).or_default() += 1;
        }
        self.seconds += outcome.seconds as u64;
        self.entries += outcome.entries;
        self.events += outcome.events;
        for number in &outcome.numbers {
            let new = || SpreadOf { unit: number.unit.clone(), ..SpreadOf::default() };
            let of = self.numbers.entry(number.name.clone()).or_insert_with(new);
            if of.unit == number.unit {
                of.add(number.value);
            }
        }
        let false_shown = outcome.is_false_shown();
        if false_shown {
            self.false_shown.insert(outcome.run);
        }
        for fault in &outcome.faults {
            let of = &mut self.faults[*fault];
            of.jobs += 1;
            of.false_shown += u64::from(false_shown);
        }
        for (fault, other) in without {
            let of = &mut self.faults[*fault];
            let only: Vec<&String> = outcome.unmet.iter().filter(|step| !other.unmet.contains(step)).collect();
            of.noticed += u64::from(!only.is_empty());
            of.because_of_it += u64::from(false_shown && !other.is_false_shown());
            for step in only {
                *of.stopped_by.entry(step.clone()).or_default() += 1;
            }
        }
    }

    pub fn merge(&mut self, other: Tally) {
        self.jobs += other.jobs;
        for index in 0..4 {
            self.claims[index] += other.claims[index];
            self.harmed[index] += other.harmed[index];
        }
        for (mine, others) in self.harms.iter_mut().zip(other.harms) {
            mine.iter_mut().zip(others).for_each(|(mine, other)| *mine += other);
        }
        for (mine, other) in self.faults.iter_mut().zip(other.faults) {
            mine.jobs += other.jobs;
            mine.false_shown += other.false_shown;
            mine.because_of_it += other.because_of_it;
            mine.noticed += other.noticed;
            add_all(&mut mine.stopped_by, other.stopped_by);
        }
        add_all(&mut self.unmet, other.unmet);
        add_all(&mut self.stopped_at, other.stopped_at);
        add_all(&mut self.slips, other.slips);
        self.reached.extend(other.reached);
        self.seconds += other.seconds;
        self.entries += other.entries;
        self.events += other.events;
        for (name, of) in other.numbers {
            match self.numbers.get_mut(&name) {
                Some(known) => known.merge(of),
                None => {
                    self.numbers.insert(name, of);
                }
            }
        }
        self.false_shown.extend(other.false_shown);
    }

    /// Jobs whose record claims that all is shown, and that a harm befell: any, or the one of this number.
    pub fn shown_and_harmed(&self, harm: Option<usize>) -> u64 {
        match harm {
            None => self.harmed[at(Claim::Shown)],
            Some(harm) => self.harms[harm][at(Claim::Shown)],
        }
    }
}

fn add_all<K: Ord>(mine: &mut BTreeMap<K, u64>, others: BTreeMap<K, u64>) {
    for (key, count) in others {
        *mine.entry(key).or_default() += count;
    }
}

fn at(claim: Claim) -> usize {
    claim as usize
}
