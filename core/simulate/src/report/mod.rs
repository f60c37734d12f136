//! What a simulation tells: as text for people, as data for programs.

mod data;
pub mod figures;
mod lead;
mod text;

pub use data::{Data, FaultRow, SlipRow, WhyRow, data, schema};
pub use lead::lead;
pub use text::text;

use standpipe_job::plan::Plan;

use crate::cause::Why;
use crate::count::Paired;
use crate::inputs::Inputs;
use crate::model::Model;
use crate::people::People;
use crate::simulation::Settings;
use crate::spread_of::{ENTRIES, ROUNDS, SpreadOf, TIME};
use crate::tally::Tally;
use crate::without::Part;

/// A simulation that is told.
pub struct Told<'a> {
    pub plan: &'a Plan,
    pub model: &'a Model,
    pub people: &'a People,
    pub settings: &'a Settings,
    pub tally: &'a Tally,
    /// Family and variant, as they were named.
    pub of: &'a str,
    pub limit: Option<Limit>,
    pub worth: &'a [Worth],
    /// What moves the number that matters, where that was asked.
    pub inputs: Option<&'a Inputs>,
    /// Of runs that claim to be shown and are harmed: what made them so. The first ones, where there are many.
    pub why: &'a [Why],
    /// Steps that were left out, or whose gates were.
    pub without: &'a [(String, Part)],
    /// Values that were others: `PATH=VALUE`.
    pub set: &'a [String],
    /// Hash of all that the runs follow from.
    pub follows_from: &'a str,
    /// The first run, and the one after the last, of each part.
    pub runs: &'a [(u32, u32)],
    /// It was broken off; what is told is what was known by then.
    pub partial: bool,
}

/// A share that must not be passed.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Number of a harm; any of them where there is none.
    pub harm: Option<usize>,
    pub share: f64,
    /// Of 1: what each look at the jobs may err.
    pub alpha: f64,
}

/// What a gate or a witness is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Worth {
    pub step: String,
    pub part: Part,
    /// Why it could not be left out.
    pub needed: Option<String>,
    pub harmed: Paired,
    /// Seconds and entries saved without it, over all jobs.
    pub seconds: i64,
    pub entries: i64,
}

/// At which shares of jobs it is told how a number is spread.
pub const QUANTILES: [(&str, f64); 5] = [("5 %", 0.05), ("25 %", 0.25), ("half", 0.5), ("75 %", 0.75), ("95 %", 0.95)];

/// How numbers are spread: those that every job has first, then those of the procedure in its order, then what matters.
pub fn in_order<'a>(told: &'a Told<'_>) -> Vec<(&'a str, &'a SpreadOf)> {
    let columns = told.plan.procedures.get(&told.plan.procedure).map(|root| &root.columns);
    let columns = columns.into_iter().flat_map(|columns| columns.keys().map(String::as_str));
    let names = || told.tally.numbers.keys().map(String::as_str);
    let rounds = names().filter(|name| name.starts_with(ROUNDS));
    let all = [TIME, ENTRIES].into_iter().chain(rounds).chain(columns).chain(names());
    let mut known: Vec<(&str, &SpreadOf)> = Vec::new();
    for name in all {
        if let Some((name, of)) = told.tally.numbers.get_key_value(name)
            && !known.iter().any(|(other, _)| other == name)
        {
            known.push((name, of));
        }
    }
    known
}

/// Steps that no run reached, each with its place.
pub fn unreached<'a>(plan: &'a Plan, tally: &Tally) -> Vec<(&'a str, String)> {
    let all = plan.procedures.values().flat_map(|procedure| procedure.all_steps());
    let asked = all.filter(|step| matches!(step.kind.children(), standpipe_procedure::Children::None));
    let never = asked.filter(|step| !tally.reached.contains(step.id.as_str()));
    never.map(|step| (step.id.as_str(), format!("{}:{}", step.id.place.name(), step.id.place.line()))).collect()
}

/// Steps with a gate.
pub fn gates(plan: &Plan) -> Vec<&str> {
    let all = plan.procedures.values().flat_map(|procedure| procedure.all_steps());
    all.filter(|step| step.gate.is_some()).map(|step| step.id.as_str()).collect()
}
