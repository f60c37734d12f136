//! A simulation as a page: what records claim against what is true, what notices faults, and how numbers are spread.

mod pictures;

use serde::Serialize;

use crate::picture::Svg;
use standpipe_job::plan::Plan;
use standpipe_simulate::Claim;
use standpipe_simulate::count::interval;
use standpipe_simulate::report::figures::{per_thousand, plain, thousands};
use standpipe_simulate::report::{Told, WhyRow, data, in_order, lead};

/// What stands on the page.
#[derive(Debug, Serialize)]
pub struct SimulationView {
    pub procedure: String,
    pub title: String,
    pub family: String,
    /// Model, people, seed and rates.
    pub of: String,
    pub partial: bool,
    /// What was left out or another.
    pub changed: Vec<String>,
    pub jobs: String,
    pub lead: Vec<String>,
    /// How a job can end.
    pub claims: Vec<&'static str>,
    /// How many jobs did, and how many of them are harmed.
    pub rows: Vec<Row>,
    pub stopped: Vec<String>,
    pub why: Vec<Cause>,
    /// Runs that are shown and harmed beyond those of which it is told why.
    pub more: usize,
    pub ended: Vec<SimulationPicture>,
    pub faults: Vec<SimulationPicture>,
    pub worth: Vec<SimulationPicture>,
    /// How many jobs were finished, for the numbers below.
    pub finished: String,
    pub numbers: Vec<SimulationPicture>,
    /// Numbers that are the same in all jobs.
    pub alike: Vec<String>,
    pub quiet_gates: Vec<String>,
    pub unreached: Vec<String>,
    pub slips: Vec<String>,
    /// Where it is all from.
    pub sources: Vec<String>,
}

/// Jobs of one kind, by how they ended.
#[derive(Debug, Serialize)]
pub struct Row {
    pub name: String,
    pub title: Option<String>,
    pub cells: Vec<String>,
}

#[derive(Debug, Serialize)]
pub struct Cause {
    pub run: u32,
    pub harms: String,
    pub causes: Vec<String>,
}

#[derive(Debug, Serialize)]
pub struct SimulationPicture {
    pub id: String,
    pub title: String,
    pub says: String,
    pub svg: Svg,
}

/// 95 %.
const ALPHA: f64 = 0.05;

pub fn simulation(told: &Told<'_>) -> SimulationView {
    let (data, tally) = (data(told), told.tally);
    let mut stopped: Vec<(&String, &u64)> = tally.stopped_at.iter().collect();
    stopped.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
    let (spread, alike): (Vec<_>, Vec<_>) = in_order(told).into_iter().partition(|(_, of)| of.jobs.len() > 1);
    let settings = told.settings;
    SimulationView {
        procedure: told.plan.procedure.clone(),
        title: title(told.plan),
        family: told.of.to_owned(),
        of: format!(
            "Model {}, people {}, seed {}, rates × {}",
            told.model.id, told.people.id, settings.seed, settings.rates
        ),
        partial: told.partial,
        changed: data.without.iter().map(|part| format!("without the {part}")).chain(data.set.clone()).collect(),
        jobs: thousands(tally.jobs),
        lead: lead(told),
        claims: Claim::ALL.map(Claim::words).to_vec(),
        rows: rows(told),
        stopped: stopped.into_iter().map(|(step, count)| format!("{step} {count}")).collect(),
        more: data.false_shown.len() - data.why.len(),
        why: data.why.iter().map(cause).collect(),
        ended: pictures::ended(told),
        faults: pictures::faults(told, &data).into_iter().collect(),
        worth: pictures::worth(told),
        finished: thousands(spread.iter().chain(&alike).map(|(_, of)| of.count()).max().unwrap_or(0)),
        numbers: spread.iter().filter_map(|(name, of)| pictures::number(name, of)).collect(),
        alike: alike
            .iter()
            .filter_map(|(name, of)| Some(format!("{name}: {} {}", plain(of.quantile(0.5)?), of.unit)))
            .collect(),
        quiet_gates: data.quiet_gates,
        unreached: data.unreached.into_iter().map(|one| one.step).collect(),
        slips: data.slips.iter().map(|(slip, count)| format!("{slip} {count}")).collect(),
        sources: told.model.sources.clone(),
    }
}

fn rows(told: &Told<'_>) -> Vec<Row> {
    let tally = told.tally;
    let counts = |counts: &[u64; 4]| counts.iter().map(|count| thousands(*count)).collect();
    let mut rows = vec![Row { name: "jobs".to_owned(), title: None, cells: counts(&tally.claims) }];
    let harms = told.model.harms.iter().zip(&tally.harms);
    rows.extend(harms.map(|((id, harm), of)| Row {
        name: id.clone(),
        title: (harm.title != *id).then(|| harm.title.clone()),
        cells: counts(of),
    }));
    rows.push(Row { name: "any harm".to_owned(), title: None, cells: counts(&tally.harmed) });
    let share = |(harmed, jobs): (&u64, &u64)| match jobs {
        0 => "no jobs".to_owned(),
        jobs => per_thousand(*harmed, *jobs, interval(*harmed, *jobs, ALPHA)),
    };
    let cells = tally.harmed.iter().zip(&tally.claims).map(share).collect();
    rows.push(Row { name: "per 1,000".to_owned(), title: Some("from to, 95 %".to_owned()), cells });
    rows
}

fn title(plan: &Plan) -> String {
    plan.procedure(&plan.procedure).map_or_else(|| plan.procedure.clone(), |root| root.title.to_string())
}

fn cause(row: &WhyRow) -> Cause {
    let slips = row.slips.iter().map(|slip| format!("{} at {}", slip.slip, slip.step));
    Cause { run: row.run, harms: row.harms.join(", "), causes: row.faults.iter().cloned().chain(slips).collect() }
}
