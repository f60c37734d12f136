//! A simulation as data.

use schemars::JsonSchema;
use serde::Serialize;

use super::{QUANTILES, Told, gates, in_order, unreached};
use crate::cause::{Cause, Slipped, Why};
use crate::count::interval;
use crate::outcome::Claim;
use crate::people::Slip;
use crate::tally::Tally;

/// What `standpipe simulate --format json` writes beside its messages.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Data {
    /// Always true: nothing here happened.
    pub simulated: bool,
    /// Hash of the plan, without the mark that kept runs carry.
    pub plan: String,
    pub procedure: String,
    pub family: String,
    pub model: String,
    pub people: String,
    pub seed: u64,
    pub rates: f64,
    pub jobs: u64,
    pub partial: bool,
    pub without: Vec<String>,
    /// Values that were others: `PATH=VALUE`.
    pub set: Vec<String>,
    /// Hash of all that the runs follow from; only parts with the same can be merged.
    pub of: String,
    /// The first run, and the one after the last, of each part.
    pub runs: Vec<(u32, u32)>,
    /// All counts, as `--merge` adds them up.
    pub counts: Tally,
    pub at_most: Option<AtMost>,
    pub shares: Vec<Share>,
    pub faults: Vec<FaultRow>,
    pub quiet_gates: Vec<String>,
    pub gates: Vec<GateRow>,
    /// What moves the number that matters, the most first; empty where nobody asked.
    pub inputs: Vec<InputRow>,
    /// How the numbers of finished jobs are spread.
    pub numbers: Vec<NumberRow>,
    pub unreached: Vec<Unreached>,
    pub stopped_at: std::collections::BTreeMap<String, u64>,
    pub slips: std::collections::BTreeMap<String, u64>,
    /// Runs to look at: claimed shown, and harmed.
    pub false_shown: Vec<u32>,
    /// What made the first of them so.
    pub why: Vec<WhyRow>,
    pub mean_minutes: f64,
    pub mean_entries: f64,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct AtMost {
    pub harm: String,
    pub share: f64,
    pub high: f64,
    pub alpha: f64,
    pub shown: bool,
}

/// A count of jobs of a kind that were harmed, with its exact interval.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Share {
    pub claimed: &'static str,
    pub harm: String,
    pub count: u64,
    pub jobs: u64,
    pub low: f64,
    pub high: f64,
    pub alpha: f64,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct FaultRow {
    pub fault: String,
    pub jobs: u64,
    pub noticed: u64,
    pub false_shown: u64,
    pub because_of_it: u64,
    pub stopped_by: std::collections::BTreeMap<String, u64>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct GateRow {
    pub step: String,
    pub part: &'static str,
    pub needed: Option<String>,
    pub worse_without: u64,
    pub better_without: u64,
    pub p: f64,
    pub seconds: i64,
    pub entries: i64,
}

/// The share of the variance of what matters that goes with one quantity that is drawn, alone or together with others.
#[derive(Debug, Serialize, JsonSchema)]
pub struct InputRow {
    pub drawn: String,
    /// Pairs of jobs that differ in it alone, both shown.
    pub pairs: u64,
    pub share: f64,
    pub low: f64,
    pub high: f64,
}

/// How a number is spread over the finished jobs that have it.
#[derive(Debug, Serialize, JsonSchema)]
pub struct NumberRow {
    pub name: String,
    pub unit: String,
    pub jobs: u64,
    /// Shares of jobs, each with the smallest number that as many do not pass.
    pub quantiles: Vec<(f64, f64)>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct Unreached {
    pub step: String,
    pub place: String,
}

/// A run that was claimed shown and harmed: the harms, and each thing without which, all else alike, it would not be so.
#[derive(Debug, Serialize, JsonSchema)]
pub struct WhyRow {
    pub run: u32,
    pub harms: Vec<String>,
    pub faults: Vec<String>,
    pub slips: Vec<SlipRow>,
}

#[derive(Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct SlipRow {
    pub slip: String,
    pub step: String,
}

pub(super) fn why(told: &Told<'_>, why: &Why) -> WhyRow {
    let harms = told.model.harms.keys().zip(&why.outcome.harms).filter(|(_, harmed)| **harmed);
    let mut row = WhyRow {
        run: why.outcome.run,
        harms: harms.map(|(id, _)| id.clone()).collect(),
        faults: Vec::new(),
        slips: Vec::new(),
    };
    // What only came late does so by shifting what follows: last, and once for a step.
    let late = |cause: &&Cause| matches!(cause, Cause::Slip(Slipped { slip: Slip::Late, .. }));
    let (late, causes): (Vec<&Cause>, Vec<&Cause>) = why.causes.iter().partition(late);
    for cause in causes.into_iter().chain(late) {
        match cause {
            Cause::Fault(fault) => row.faults.extend(told.model.faults.get_index(*fault).map(|(id, _)| id.clone())),
            Cause::Slip(Slipped { slip, step, .. }) => {
                let row_of = SlipRow { slip: slip.name().to_owned(), step: step.clone() };
                if !row.slips.contains(&row_of) {
                    row.slips.push(row_of);
                }
            }
        }
    }
    row
}

pub fn data(told: &Told<'_>) -> Data {
    const ALPHA: f64 = 0.05;
    let tally = told.tally;
    let mut shares = Vec::new();
    for (index, claim) in Claim::ALL.into_iter().enumerate() {
        let jobs = tally.claims[index];
        let own = told.model.harms.keys().zip(&tally.harms).map(|(id, count)| (id.clone(), count[index]));
        for (harm, count) in std::iter::once(("any".to_owned(), tally.harmed[index])).chain(own) {
            let found = interval(count, jobs, ALPHA);
            let (low, high) = (found.low, found.high);
            shares.push(Share { claimed: claim.words(), harm, count, jobs, low, high, alpha: ALPHA });
        }
    }
    let faults = told.model.faults.keys().zip(&tally.faults).map(|(id, of)| FaultRow {
        fault: id.clone(),
        jobs: of.jobs,
        noticed: of.noticed,
        false_shown: of.false_shown,
        because_of_it: of.because_of_it,
        stopped_by: of.stopped_by.clone(),
    });
    let gate = |one: &super::Worth| GateRow {
        step: one.step.clone(),
        part: one.part.words(),
        needed: one.needed.clone(),
        worse_without: one.harmed.worse,
        better_without: one.harmed.better,
        p: one.harmed.p(),
        seconds: one.seconds,
        entries: one.entries,
    };
    let input = |one: &crate::inputs::Moves| InputRow {
        drawn: one.name.clone(),
        pairs: one.pairs,
        share: one.share,
        low: one.low,
        high: one.high,
    };
    let at_most = told.limit.as_ref().map(|limit| {
        let high = interval(tally.shown_and_harmed(limit.harm), tally.jobs, limit.alpha).high;
        let harm = limit.harm.and_then(|harm| told.model.harms.get_index(harm));
        let harm = harm.map_or("any".to_owned(), |(id, _)| id.clone());
        AtMost { harm, share: limit.share, high, alpha: limit.alpha, shown: high <= limit.share }
    });
    let quiet = gates(told.plan).into_iter().filter(|step| !tally.unmet.contains_key(*step));
    let jobs = tally.jobs.max(1) as f64;
    Data {
        simulated: true,
        plan: told.plan.hash.clone(),
        procedure: told.plan.procedure.clone(),
        family: told.of.to_owned(),
        model: told.model.id.clone(),
        people: told.people.id.clone(),
        seed: told.settings.seed,
        rates: told.settings.rates,
        jobs: tally.jobs,
        partial: told.partial,
        without: told.without.iter().map(|(step, part)| format!("{} of {step}", part.words())).collect(),
        set: told.set.to_vec(),
        of: told.follows_from.to_owned(),
        runs: told.runs.to_vec(),
        counts: tally.clone(),
        at_most,
        shares,
        faults: faults.collect(),
        quiet_gates: quiet.map(str::to_owned).collect(),
        gates: told.worth.iter().map(gate).collect(),
        inputs: told.inputs.iter().flat_map(|inputs| &inputs.moves).map(input).collect(),
        numbers: in_order(told)
            .into_iter()
            .map(|(name, of)| NumberRow {
                name: name.to_owned(),
                unit: of.unit.clone(),
                jobs: of.count(),
                quantiles: QUANTILES.iter().filter_map(|(_, share)| Some((*share, of.quantile(*share)?))).collect(),
            })
            .collect(),
        unreached: unreached(told.plan, tally)
            .into_iter()
            .map(|(step, place)| Unreached { step: step.to_owned(), place })
            .collect(),
        stopped_at: tally.stopped_at.clone(),
        slips: tally.slips.iter().map(|(slip, count)| (slip.name().to_owned(), *count)).collect(),
        false_shown: tally.false_shown.iter().copied().collect(),
        why: told.why.iter().map(|one| why(told, one)).collect(),
        mean_minutes: tally.seconds as f64 / 60.0 / jobs,
        mean_entries: tally.entries as f64 / jobs,
    }
}

/// What programs are told of it.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(Data)
}
