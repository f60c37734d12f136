//! A simulation as text, 80 columns.

use std::fmt::Write;

use super::figures::{figure, per_thousand, plain, thousands};
use super::{QUANTILES, Told, Worth, gates, in_order, lead, unreached};
use crate::count::{holm, interval};
use crate::inputs::Moves;
use crate::outcome::Claim;
use crate::without::Part;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

/// 95 %, unless a look has less.
const ALPHA: f64 = 0.05;
/// Standard deviations that hold 95 % of a normal number.
const DEVIATIONS: f64 = 1.959_964;
/// Steps that are listed before it is said how many more there are.
const LISTED: usize = 12;
/// Causes of one run that are listed.
const CAUSES: usize = 3;

pub fn text(told: &Told<'_>) -> String {
    let mut out = String::new();
    head(told, &mut out);
    lead(told).iter().for_each(|line| {
        let _ = writeln!(out, "{line}");
    });
    out.push('\n');
    claims(told, &mut out);
    why(told, &mut out);
    faults(told, &mut out);
    quiet_gates(told, &mut out);
    worth(told.worth, told.tally.jobs, &mut out);
    inputs(told, &mut out);
    numbers(told, &mut out);
    never(told, &mut out);
    slips(told, &mut out);
    out
}

fn head(told: &Told<'_>, out: &mut String) {
    let tally = told.tally;
    let _ = writeln!(out, "SIMULATED  {}, {}  INVENTED", told.plan.procedure, told.of);
    let _ = writeln!(
        out,
        "{} jobs, model {}, people {}, seed {}, rates x {}{}",
        thousands(tally.jobs),
        told.model.id,
        told.people.id,
        told.settings.seed,
        told.settings.rates,
        if told.partial { ", BROKEN OFF" } else { "" }
    );
    for (step, part) in told.without {
        let _ = writeln!(out, "without the {} of {step}", part.words());
    }
    for set in told.set {
        let _ = writeln!(out, "with {set}");
    }
    let jobs = tally.jobs.max(1) as f64;
    let _ = writeln!(
        out,
        "a job takes {:.0} min, {:.0} entries and {:.0} events on average\n",
        tally.seconds as f64 / 60.0 / jobs,
        tally.entries as f64 / jobs,
        tally.events as f64 / jobs
    );
}

fn claims(told: &Told<'_>, out: &mut String) {
    let tally = told.tally;
    let mut heading = format!("{:<11}{:>9}", "claimed", "jobs");
    for id in told.model.harms.keys() {
        let _ = write!(heading, "{:>width$}", id, width = id.chars().count().max(6) + 2);
    }
    let _ = writeln!(out, "{heading}  harmed per 1,000 (95 %)");
    for (index, claim) in Claim::ALL.into_iter().enumerate() {
        let jobs = tally.claims[index];
        let _ = write!(out, "{:<11}{:>9}", claim.words(), thousands(jobs));
        for (id, count) in told.model.harms.keys().zip(&tally.harms) {
            let _ = write!(out, "{:>width$}", thousands(count[index]), width = id.chars().count().max(6) + 2);
        }
        let harmed = tally.harmed[index];
        let share =
            if jobs == 0 { "no jobs".to_owned() } else { per_thousand(harmed, jobs, interval(harmed, jobs, ALPHA)) };
        let _ = writeln!(out, "  {share}");
    }
    let mut stopped: Vec<(&String, &u64)> = tally.stopped_at.iter().collect();
    stopped.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
    if !stopped.is_empty() {
        let all: Vec<String> = stopped.iter().take(6).map(|(step, count)| format!("{step} {count}")).collect();
        let _ = writeln!(out, "stopped at: {}", all.join(", "));
    }
    out.push('\n');
}

/// What made records claim more than is true: the reader's next question.
fn why(told: &Told<'_>, out: &mut String) {
    if told.why.is_empty() {
        return;
    }
    let _ = writeln!(out, "{:>23}  {:<8}  would not be so without", "shown, and harmed: run", "harm");
    for one in told.why {
        let row = super::data::why(told, one);
        let slips = row.slips.iter().map(|slip| format!("{} at {}", slip.slip, slip.step));
        let causes: Vec<String> = row.faults.iter().cloned().chain(slips).collect();
        let causes = match causes.len() {
            0 => "no single fault or slip".to_owned(),
            few if few <= CAUSES => causes.join(" / "),
            many => format!("{} / {} more, all of them in JSON", causes[..CAUSES].join(" / "), many - CAUSES),
        };
        let _ = writeln!(out, "{:>23}  {:<8}  {causes}", row.run, row.harms.join(", "));
    }
    let more = told.tally.false_shown.len() - told.why.len();
    if more > 0 {
        let _ = writeln!(out, "  and {more} more: `--runs N..M` looks at those by themselves");
    }
    out.push('\n');
}

fn faults(told: &Told<'_>, out: &mut String) {
    let with: Vec<_> = told.model.faults.keys().zip(&told.tally.faults).filter(|(_, of)| of.jobs > 0).collect();
    if with.is_empty() {
        return;
    }
    let _ = writeln!(out, "{:<22}{:>7}{:>9}{:>8}{:>9}  stopped by", "fault", "jobs", "noticed", "shown,", "because");
    let _ = writeln!(out, "{:<22}{:>7}{:>9}{:>8}{:>9}", "", "", "", "harmed", "of it");
    for (id, of) in with {
        let mut by: Vec<(&String, &u64)> = of.stopped_by.iter().collect();
        by.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        let by: Vec<String> = by.iter().take(3).map(|(step, count)| format!("{step} {count}")).collect();
        let by = match (by.is_empty(), told.settings.paired) {
            (_, false) => "not looked at".to_owned(),
            (true, true) => "nothing".to_owned(),
            (false, true) => by.join(", "),
        };
        let _ =
            writeln!(out, "{id:<22}{:>7}{:>9}{:>8}{:>9}  {by}", of.jobs, of.noticed, of.false_shown, of.because_of_it);
    }
    out.push('\n');
}

fn quiet_gates(told: &Told<'_>, out: &mut String) {
    let never: Vec<&str> = gates(told.plan).into_iter().filter(|step| !told.tally.unmet.contains_key(*step)).collect();
    if !never.is_empty() {
        listed(out, "Gates that never stopped anything", &never);
    }
}

fn worth(all: &[Worth], jobs: u64, out: &mut String) {
    if all.is_empty() {
        return;
    }
    let chances: Vec<f64> = all.iter().map(|one| one.harmed.p()).collect();
    let adjusted = holm(&chances);
    let mut rows: Vec<(&Worth, f64)> = all.iter().zip(adjusted).collect();
    rows.sort_by(|(a, _), (b, _)| b.harmed.difference().total_cmp(&a.harmed.difference()).then(a.step.cmp(&b.step)));
    let _ = writeln!(out, "{:<36}{:<28}costs per job", "left out", "saves per 1,000 jobs (95 %)");
    for (one, chance) in rows {
        let name = match one.part {
            Part::Gate => one.step.clone(),
            part => format!("{} ({})", one.step, part.words()),
        };
        if let Some(why) = &one.needed {
            let _ = writeln!(out, "{name:<36}can't be left out: {why}");
            continue;
        }
        let found = one.harmed.interval(DEVIATIONS);
        let span = format!("({} to {})", figure(found.low * 1000.0), figure(found.high * 1000.0));
        // Inside its interval, or a chance among so many, a difference is none that is known.
        let known = (found.low > 0.0 || found.high < 0.0) && chance < ALPHA;
        let saved = if known { figure(one.harmed.difference() * 1000.0) } else { "unknown".to_owned() };
        let per = |sum: i64| sum as f64 / jobs.max(1) as f64;
        let _ = writeln!(
            out,
            "{name:<36}{:<28}{:.1} min, {:.1} entries",
            format!("{saved} {span}"),
            -per(one.seconds) / 60.0,
            -per(one.entries)
        );
    }
    let _ = writeln!(out, "Each by itself: gates that cover for one another seem worth nothing.\n");
}

/// Shares that round to nothing, or whose interval begins there, are named alone.
fn inputs(told: &Told<'_>, out: &mut String) {
    let (Some(inputs), Some(matters)) = (told.inputs, &told.model.matters) else { return };
    let show = |si: f64| match &inputs.mean {
        Some(mean) => told.plan.show(&Value::Quantity(Quantity { si, ..mean.clone() })),
        None => "nothing".to_owned(),
    };
    let mean = inputs.mean.as_ref().map_or(0.0, |mean| mean.si);
    let spread = inputs.mean.as_ref().map_or("nothing".to_owned(), |mean| {
        told.plan.show(&Value::Quantity(Quantity { si: inputs.deviation, point: false, ..mean.clone() }))
    });
    let _ = writeln!(
        out,
        "{} of {} jobs that are shown: {} on average, standard deviation {spread}",
        matters.value,
        thousands(inputs.jobs),
        show(mean)
    );
    let _ = writeln!(out, "{:<24}share of its variance (95 %)", "moved by");
    let known = |one: &&Moves| one.low > 0.0 && one.high >= 0.005;
    for one in inputs.moves.iter().filter(known).take(LISTED) {
        let _ = writeln!(out, "{:<24}{:.2} ({:.2} to {:.2})", one.name, one.share, one.low, one.high);
    }
    let rest: Vec<&str> = inputs.moves.iter().filter(|one| !known(one)).map(|one| one.name.as_str()).collect();
    if !rest.is_empty() {
        listed(out, "Less than 0.01, or indistinguishable from nothing", &rest);
    }
    let _ = writeln!(out, "What two move together counts for both.\n");
}

fn numbers(told: &Told<'_>, out: &mut String) {
    let all = in_order(told);
    let Some((_, first)) = all.first() else { return };
    let jobs = first.count();
    let heading: String = QUANTILES.iter().map(|(words, _)| format!("{words:>10}")).collect();
    let _ = writeln!(out, "{:<28}{heading}", format!("of {} finished jobs", thousands(jobs)));
    for (name, of) in all.into_iter().filter(|(_, of)| of.jobs.len() > 1) {
        let unit = if of.unit.is_empty() { String::new() } else { format!(" [{}]", of.unit) };
        let at: String = QUANTILES
            .iter()
            .map(|(_, share)| format!("{:>10}", of.quantile(*share).map_or_else(String::new, plain)))
            .collect();
        // What a procedure tells of few jobs only is not spread over all of them.
        let few = if of.count() < jobs { format!("  ({} of them)", thousands(of.count())) } else { String::new() };
        let _ = writeln!(out, "{:<28}{at}{few}", format!("{name}{unit}"));
    }
    out.push('\n');
}

fn never(told: &Told<'_>, out: &mut String) {
    let never = unreached(told.plan, told.tally);
    if never.is_empty() {
        return;
    }
    let places: Vec<String> = never.iter().map(|(step, place)| format!("{step} ({place})")).collect();
    let _ = writeln!(out, "Steps that no run reached, {}:", never.len());
    for place in places.iter().take(LISTED) {
        let _ = writeln!(out, "  {place}");
    }
    if places.len() > LISTED {
        let _ = writeln!(out, "  and {} more, all of them in JSON", places.len() - LISTED);
    }
}

fn slips(told: &Told<'_>, out: &mut String) {
    let all: Vec<String> = told.tally.slips.iter().map(|(slip, count)| format!("{} {count}", slip.name())).collect();
    if !all.is_empty() {
        listed(out, "Slips that happened", &all.iter().map(String::as_str).collect::<Vec<_>>());
    }
}

fn listed(out: &mut String, what: &str, all: &[&str]) {
    let mut line = format!("{what}, {}:", all.len());
    for one in all {
        if line.len() + one.len() > 78 {
            let _ = writeln!(out, "{line}");
            line = String::from(" ");
        }
        line.push(' ');
        line.push_str(one);
    }
    let _ = writeln!(out, "{line}");
}
