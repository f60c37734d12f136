//! A proposal as text.

use super::{Aside, FEWEST, Found, Proposal, Proposals, Silent, Standing};
use crate::shown::{banner, count, headline, painted, section};
use standpipe_diagnostic::columns::{clean, hang, wrap};
use standpipe_job::judge::percent;
use standpipe_job::plan::Plan;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

pub fn text(all: &Proposals, plan: &Plan, width: usize, colour: bool) -> String {
    let of = of(all);
    let mut out =
        vec![headline(&format!("WHAT FINISHED JOBS SAY OF {of}"), banner(all.simulated, all.invented), width)];
    let between = match all.between {
        Some((from, to)) if from == to => format!(", finished on {from}"),
        Some((from, to)) => format!(", finished from {from} to {to}"),
        None => String::new(),
    };
    let jobs = count(all.jobs, "job");
    out.extend(wrap(&format!("{jobs} by {}{between}.", all.procedure), width));
    out.extend(wrap(
        "A job says what was so that day: whoever keeps the data decides. The maker's values come first.",
        width,
    ));
    for fact in &all.facts {
        // As it has to be written.
        out.extend([String::new(), fact.fact.clone()]);
        out.extend(hang("  ", &fact.asks, width));
        lines(fact, plan, all.confidence, width, &mut out);
    }
    if !all.aside.is_empty() {
        section(&mut out, "Left aside");
        asides(&all.aside, width, &mut out);
    }
    out.push(String::new());
    let lines: Vec<String> = out.iter().map(|line| clean(line)).collect();
    painted(&(lines.join("\n") + "\n"), colour)
}

/// Work that was not asked of, with how many jobs there are of it.
pub fn silent(all: &[Silent], width: usize) -> String {
    let mut out = Vec::new();
    for one in all {
        let line = match &one.work {
            Some(work) => format!("{} of {} by {}: {}.", count(one.jobs, "job"), work.of(), work.procedure, one.why),
            None => format!("Not read: {}.", one.why),
        };
        out.extend(hang("  ", &line, width));
    }
    let lines: Vec<String> = out.iter().map(|line| format!("{}\n", clean(line))).collect();
    if lines.is_empty() { String::new() } else { format!("NOT ASKED\n{}", lines.concat()) }
}

/// `heron, variant small-pan`
pub(super) fn of(all: &Proposals) -> String {
    match &all.variant {
        Some(variant) => format!("{}, variant {variant}", all.family),
        None => all.family.clone(),
    }
}

fn lines(fact: &Proposal, plan: &Plan, confidence: f64, width: usize, out: &mut Vec<String>) {
    let mut line = |text: &str| out.extend(hang("  ", text, width));
    let show = |value: &Quantity| plan.show_computed(&Value::Quantity(value.clone()));
    line(&data(fact, plan));
    match &fact.found {
        None => line(&format!("{} of it: at least {FEWEST} are needed.", told(fact.jobs.len()))),
        Some(found) => {
            let sure = percent(confidence);
            let (low, high) = &found.mean_between;
            line(&format!(
                "{} of it: {} on average ({} to {} with {sure}), from {} to {}.",
                told(fact.jobs.len()),
                show(&found.mean),
                show(low),
                show(high),
                show(&found.smallest),
                show(&found.largest),
            ));
            let (low, high) = &found.next_between;
            line(&format!("The next one lies between {} and {} with {sure}.", show(low), show(high)));
            line(&standing(found, fact.jobs.len()));
        }
    }
    asides(&fact.aside, width, out);
}

/// What the family has of it so far.
pub(super) fn data(fact: &Proposal, plan: &Plan) -> String {
    match &fact.now {
        Value::Unknown => "The data do not say.".to_owned(),
        now => format!("The data say {}.", plan.show(now)),
    }
}

fn told(jobs: usize) -> String {
    let verb = if jobs == 1 { "speaks" } else { "speak" };
    format!("{} {verb}", count(jobs, "job"))
}

fn standing(found: &Found, jobs: usize) -> String {
    match found.standing {
        Standing::Agrees if found.outside > 0 => format!("AGREES, though {} of {jobs} lie outside.", found.outside),
        Standing::Agrees => "AGREES.".to_owned(),
        Standing::Unknown => format!("PROPOSED: {}", found.proposed),
        Standing::Differs if found.outside > 0 => {
            format!("DIFFERS: {} of {jobs} lie outside. PROPOSED: {}", found.outside, found.proposed)
        }
        Standing::Differs => format!("DIFFERS. PROPOSED: {}", found.proposed),
    }
}

/// The same reason once, with its jobs.
fn asides(all: &[Aside], width: usize, out: &mut Vec<String>) {
    let mut by_reason: indexmap::IndexMap<&str, Vec<&str>> = indexmap::IndexMap::new();
    for aside in all {
        by_reason.entry(&aside.why).or_default().push(&aside.job);
    }
    for (why, jobs) in by_reason {
        let named = match jobs.as_slice() {
            few if few.len() <= 3 => few.join(", "),
            many => format!("{}, {} and {} more", many[0], many[1], many.len() - 2),
        };
        out.extend(hang("  ", &format!("Without {named}: {why}."), width));
    }
}
