//! A proposal as an overlay: a file that does nothing until a shop lists it.

use super::text::{data, of};
use super::{Found, Proposal, Proposals, Standing};
use crate::shown::count;
use standpipe_job::plan::Plan;

/// What is not known or differs, one change each. `None` where there is nothing to change.
pub fn overlay(all: &Proposals, plan: &Plan, id: &str, folder: &str) -> Option<String> {
    let changes: Vec<String> = all.facts.iter().filter_map(|fact| change(all, plan, fact)).collect();
    if changes.is_empty() {
        return None;
    }
    let of = of(all);
    let invented = if all.invented || all.simulated { "invented: true\n" } else { "" };
    Some(format!(
        "# What finished jobs say of {of}. Nobody has looked at it yet: whoever keeps the data compares, takes out what is not\n\
         # right, and says under `source:` that it was looked at. Then the shop file lists it:\n\
         #   plugins: [{folder}]\n\
         #   overlays: [{id}]\n\
         overlay: {id}\n\
         title: What finished jobs say of {of}, proposed\n\
         {invented}\
         procedure: {}\n\
         changes:\n{}",
        all.procedure,
        changes.concat()
    ))
}

fn change(all: &Proposals, plan: &Plan, fact: &Proposal) -> Option<String> {
    let found: &Found = fact.found.as_ref().filter(|found| found.standing != Standing::Agrees)?;
    let variant = all.variant.as_ref().map(|variant| format!("    variant: {variant}\n")).unwrap_or_default();
    let simulated = if all.simulated { "SIMULATED: " } else { "" };
    let between = all.between.map(|(from, to)| format!(", {from} to {to}")).unwrap_or_default();
    let jobs = count(fact.jobs.len(), "finished job");
    Some(format!(
        "  # {}\n  - family: {}\n{variant}    values: {{ {}: {} }}\n    source: \"{simulated}{jobs}{between}; proposed, nobody has looked at it yet\"\n",
        data(fact, plan),
        all.family,
        fact.fact,
        found.proposed,
    ))
}
