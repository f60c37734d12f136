//! What is drawn of a simulation.

use super::SimulationPicture;
use crate::picture::{Bar, Interval, Spread, Svg, Table, bars, intervals, spread};
use standpipe_simulate::Claim;
use standpipe_simulate::count::{Interval as Ends, interval};
use standpipe_simulate::report::figures::{figure, per_thousand, plain};
use standpipe_simulate::report::{Data, FaultRow, QUANTILES, Told};
use standpipe_simulate::spread_of::SpreadOf;
use standpipe_simulate::without::Part;

use super::ALPHA;

/// Gates of a fault that are named.
const NAMED: usize = 3;

/// Standard deviations that hold 95 % of a normal number.
const DEVIATIONS: f64 = 1.959_964;

fn picture(id: &str, title: &str, says: String, svg: Svg, head: &[&str], rows: Vec<Vec<String>>) -> SimulationPicture {
    let table = Table { head: head.iter().map(|&cell| cell.to_owned()).collect(), rows };
    SimulationPicture { id: id.to_owned(), title: title.to_owned(), says, svg: Svg { table, ..svg } }
}

/// How jobs ended and how many are harmed, and what share of those that are claimed shown by which harm.
pub fn ended(told: &Told<'_>) -> Vec<SimulationPicture> {
    let tally = told.tally;
    let claims = Claim::ALL.into_iter().zip(tally.claims.iter().zip(&tally.harmed)).filter(|(_, (jobs, _))| **jobs > 0);
    let rows: Vec<Bar> = claims
        .map(|(claim, (jobs, harmed))| Bar { name: claim.words().to_owned(), all: *jobs, part: *harmed, mark: None })
        .collect();
    let table = rows.iter().map(|row| vec![row.name.clone(), row.all.to_string(), row.part.to_string()]);
    let says = "The whole bar: jobs that ended so. Its dark part: those that are harmed in truth.".to_owned();
    let head = ["ended", "jobs", "harmed"];
    let mut all = vec![picture("ended", "How jobs ended", says, bars(&rows), &head, table.collect())];
    let shown = tally.claims[0];
    if shown == 0 {
        return all;
    }
    let names = std::iter::once(("any", None))
        .chain(told.model.harms.keys().enumerate().map(|(index, id)| (id.as_str(), Some(index))));
    let mut table = Vec::new();
    let spans: Vec<Interval> = names
        .map(|(name, harm)| {
            let count = tally.shown_and_harmed(harm);
            let found = interval(count, shown, ALPHA);
            table.push(vec![name.to_owned(), count.to_string(), per_thousand(count, shown, found)]);
            let at = count as f64 / shown as f64;
            per_1000(name.to_owned(), at, found, per_thousand(count, shown, found))
        })
        .collect();
    let says = format!(
        "Of {shown} jobs whose record claims that all is shown: how many in 1,000 are harmed. The dot: what was counted. \
         The line: where the share lies, in 95 of 100 such tables."
    );
    let svg = intervals(&spans, None, "harmed in 1,000 jobs that are claimed shown");
    all.push(picture("harmed", "Claimed shown, and harmed", says, svg, &["harm", "jobs", "per 1,000 (95 %)"], table));
    all
}

fn per_1000(name: String, at: f64, found: Ends, shown: String) -> Interval {
    Interval { name, at: at * 1000.0, low: found.low * 1000.0, high: found.high * 1000.0, shown }
}

/// Faults against gates.
pub fn faults(told: &Told<'_>, data: &Data) -> Option<SimulationPicture> {
    let with: Vec<&FaultRow> = data.faults.iter().filter(|fault| fault.jobs > 0).collect();
    if with.is_empty() {
        return None;
    }
    let paired = told.settings.paired;
    let bar = |fault: &&FaultRow| Bar {
        name: fault.fault.clone(),
        all: fault.jobs,
        part: fault.noticed,
        mark: (fault.false_shown > 0).then(|| format!("{} shown and harmed", fault.false_shown)),
    };
    let row = |fault: &&FaultRow| {
        let mut by: Vec<(&String, &u64)> = fault.stopped_by.iter().collect();
        by.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        let by: Vec<String> = by.into_iter().take(NAMED).map(|(step, count)| format!("{step} {count}")).collect();
        let noticed = if paired { format!("{} of {}", fault.noticed, fault.jobs) } else { "not looked at".to_owned() };
        let by = match by.is_empty() {
            true if paired => "nothing".to_owned(),
            _ => by.join(", "),
        };
        let harmed = match fault.false_shown {
            0 => "0".to_owned(),
            count => format!("{count}, {} because of it", fault.because_of_it),
        };
        vec![fault.fault.clone(), noticed, harmed, by]
    };
    let says = match paired {
        true => {
            "The whole bar: jobs that have the fault. Its dark part: those in which a gate is not met that is met without it."
        }
        false => "Jobs that have the fault. What stopped it was not worked out.",
    };
    let rows: Vec<Bar> = with.iter().map(bar).collect();
    let head = ["fault", "noticed", "shown, harmed", "stopped by"];
    let table = with.iter().map(row).collect();
    Some(picture("faults", "Which faults are noticed", says.to_owned(), bars(&rows), &head, table))
}

/// What each gate saves, and what moves the number that matters, where that was asked.
pub fn worth(told: &Told<'_>) -> Vec<SimulationPicture> {
    let mut all = Vec::new();
    let could: Vec<_> = told.worth.iter().filter(|one| one.needed.is_none()).collect();
    if !could.is_empty() {
        let jobs = told.tally.jobs.max(1) as f64;
        let mut table = Vec::new();
        let spans: Vec<Interval> = could
            .iter()
            .map(|one| {
                let name = match one.part {
                    Part::Gate => one.step.clone(),
                    part => format!("{} ({})", one.step, part.words()),
                };
                let found = one.harmed.interval(DEVIATIONS);
                let (low, high) = (figure(found.low * 1000.0), figure(found.high * 1000.0));
                let shown = format!("{} ({low} to {high})", figure(one.harmed.difference() * 1000.0));
                let minutes = figure(-one.seconds as f64 / 60.0 / jobs);
                let entries = figure(-one.entries as f64 / jobs);
                table.push(vec![name.clone(), shown.clone(), minutes, entries]);
                per_1000(name, one.harmed.difference(), found, shown)
            })
            .collect();
        let says = "How many more in 1,000 jobs are shown and harmed without it, each left out by itself. Where the line crosses 0, \
                    nothing is known. Gates that cover for one another seem worth nothing.";
        let head = ["left out", "saves per 1,000 (95 %)", "costs min", "costs entries"];
        let svg = intervals(&spans, None, "harmed in 1,000 jobs that it saves");
        all.push(picture("worth", "What each gate is worth", says.to_owned(), svg, &head, table));
    }
    if let Some((inputs, matters)) = told.inputs.zip(told.model.matters.as_ref()) {
        let moves = || inputs.moves.iter().filter(|one| one.low > 0.0);
        let shown =
            |one: &standpipe_simulate::inputs::Moves| format!("{:.2} ({:.2} to {:.2})", one.share, one.low, one.high);
        let spans: Vec<Interval> = moves()
            .map(|one| Interval {
                name: one.name.clone(),
                at: one.share,
                low: one.low,
                high: one.high,
                shown: shown(one),
            })
            .collect();
        if !spans.is_empty() {
            let table = moves().map(|one| vec![one.name.clone(), one.pairs.to_string(), shown(one)]).collect();
            let says = format!(
                "The share of the variance of {} that goes with each quantity that is drawn, alone or together with others.",
                matters.value
            );
            let head = ["drawn", "pairs", "share (95 %)"];
            let svg = intervals(&spans, None, "share of the variance");
            all.push(picture("inputs", &format!("What moves {}", matters.value), says, svg, &head, table));
        }
    }
    all
}

/// How one number is spread.
pub fn number(name: &str, of: &SpreadOf) -> Option<SimulationPicture> {
    let at = |share| of.quantile(share);
    let (low, middle, high) = (at(0.05)?, at(0.5)?, at(0.95)?);
    let unit = if of.unit.is_empty() { String::new() } else { format!(" {}", of.unit) };
    let label = if of.unit.is_empty() { name.to_owned() } else { format!("{name} [{}]", of.unit) };
    let jobs: Vec<(f64, u64)> = of.values().collect();
    let (least, most) = (jobs.first()?.0, jobs.last()?.0);
    let quantiles = QUANTILES.iter().filter_map(|(words, share)| Some(((*words).to_owned(), at(*share)?)));
    let ends = [("least".to_owned(), least)].into_iter().chain(quantiles).chain([("most".to_owned(), most)]);
    let table = ends.map(|(words, value)| vec![words, format!("{}{unit}", plain(value))]).collect();
    let says = format!(
        "Of {} jobs half have at most {}{unit}; nine in ten lie from {} to {}{unit}.",
        of.count(),
        plain(middle),
        plain(low),
        plain(high)
    );
    let svg = spread(&Spread { name: label, jobs, middle, nine_in_ten: (low, high) });
    let id = name.replace(|letter: char| !letter.is_ascii_alphanumeric(), "-");
    Some(picture(&format!("number-{id}"), name, says, svg, &["of jobs", "at most"], table))
}
