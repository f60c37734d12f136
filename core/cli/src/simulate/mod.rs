//! `simulate`: a procedure over invented units and people.

mod args;
mod gates;
mod merge;
mod progress;

use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::about;
pub use args::Simulate;
use gates::gates;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::plan::{Parsed, typed};
use standpipe_report::page;
use standpipe_report::simulation::simulation;
use standpipe_simulate::cause::Why;
use standpipe_simulate::count::{Look, Looks};
use standpipe_simulate::limit::limit;
use standpipe_simulate::report::{Limit, Told, data, text};
use standpipe_simulate::{Bench, Settings, Stand, Tally};

const SCHEMA: &str = "standpipe.simulation/1";
/// What one look may err.
const ALPHA: f64 = 0.05;
/// Runs whose causes are looked for: each is repeated some ten times.
const LOOKED_INTO: usize = 30;

pub fn run(args: &Simulate, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let done = stand(args, context, &mut problems).and_then(|stand| simulate(args, context, &stand, &mut problems));
    match done {
        Some(exit) => exit,
        None => {
            context.failed(SCHEMA, &problems);
            match problems.iter().any(|problem| problem.code == Code::ModelFails) {
                true => Exit::Defect,
                false => Exit::Usage,
            }
        }
    }
}

fn stand(args: &Simulate, context: &Context, problems: &mut Problems) -> Option<Stand> {
    if !(args.rates.is_finite() && args.rates >= 0.0) {
        let at = typed("--rates", &args.rates.to_string());
        problems.push(Diagnostic::error(Code::WrongArguments, &at.place, "this is not a factor of 0 or more"));
        return None;
    }
    let (files, shop) = context.files(None, problems);
    let parsed = Parsed::new(files.clone(), problems);
    Stand::new(&args.question(), &files, &parsed, shop, problems)
}

fn simulate(args: &Simulate, context: &Context, stand: &Stand, problems: &mut Problems) -> Option<Exit> {
    if args.inputs && stand.model.matters.is_none() {
        let at = typed("--inputs", "--inputs");
        let message = format!("the model `{}` does not say what matters in the end", stand.model.id);
        let problem = Diagnostic::error(Code::WrongArguments, &at.place, message);
        problems.push(problem.help("name a function that gives the number: `matters: FUNCTION`"));
        return None;
    }
    let named: Vec<_> = args.fault.iter().map(|id| typed("--fault", id)).collect();
    let (always, by_chance) = stand.faults(&named, problems)?;
    let by_chance = if args.no_faults { Vec::new() } else { by_chance };
    let limit = match &args.at_most {
        None => None,
        Some(text) => match limit(&typed("--at-most", text), &stand.model) {
            Ok(limit) => Some(limit),
            Err(problem) => {
                problems.push(*problem);
                return None;
            }
        },
    };
    let settings = Settings { seed: stand.seed, always, by_chance, rates: args.rates, paired: !args.unpaired };
    // All that is wrong with model and plan is told here, once.
    let bench = stand.bench(&stand.files, problems)?;
    context.report(problems);
    let stop = Arc::new(AtomicBool::new(false));
    let question = [&stand.procedure, &stand.family, &stand.model.id, &stand.people.id].map(String::as_str);
    let follows_from =
        merge::of(&stand.files, stand.shop.as_deref().map(|shop| shop.text.as_str()), &question, &settings);
    let mut tally = Tally::new(stand.model.harms.len(), stand.model.faults.len());
    let runs = args.runs.clone().unwrap_or(0..args.jobs);
    let wanted = u64::from(runs.end - runs.start);
    // What was done elsewhere was not looked at half-way.
    let looks = limit.filter(|_| args.merge.is_empty()).map(|(_, share)| Looks { jobs: wanted, limit: share });
    let done_in = if args.merge.is_empty() {
        let is_clear = |tally: &Tally| {
            looks.zip(limit).is_some_and(|(looks, (harm, _))| {
                !matches!(looks.look(tally.shown_and_harmed(harm), tally.jobs), Look::NotClear(_))
            })
        };
        let ends = looks.map_or_else(|| vec![wanted], |looks| looks.at());
        let work = Work { args, context, stand, settings: &settings, stop: &stop };
        vec![work.run(&runs, &ends, &is_clear, &mut tally, problems)?]
    } else {
        merge::merged(&args.merge, &follows_from, &mut tally, problems)?
    };
    let mut worth = Vec::new();
    if args.gates && !stop.load(Ordering::Relaxed) {
        worth = gates(args, stand, &settings, &bench, problems, &stop)?;
    }
    let mut inputs = None;
    if args.inputs && !stop.load(Ordering::Relaxed) {
        match settings.inputs(&bench, runs.clone(), &stop) {
            Ok(found) => inputs = Some(found),
            Err(failed) => {
                problems.push(failed.told(&settings));
                return None;
            }
        }
    }
    let partial = stop.load(Ordering::Relaxed);
    let looked_into = if partial { 0 } else { LOOKED_INTO };
    let why =
        tally.false_shown.iter().take(looked_into).map(|run| settings.why(&bench, *run)).collect::<Result<_, _>>();
    let why: Vec<Why> = match why {
        Ok(why) => why,
        Err(failed) => {
            problems.push(failed.told(&settings));
            return None;
        }
    };
    let limit = limit.map(|(harm, share)| {
        let alpha = looks.map_or(ALPHA, |looks| looks.alpha());
        Limit { harm, share, alpha }
    });
    let told = Told {
        plan: bench.plan(),
        model: &stand.model,
        people: &stand.people,
        settings: &settings,
        tally: &tally,
        of: &stand.family,
        limit,
        worth: &worth,
        inputs: inputs.as_ref(),
        why: &why,
        without: &stand.left_out,
        set: &args.set,
        follows_from: &follows_from,
        runs: &merge::joined(done_in),
        partial,
    };
    let found = data(&told);
    let met = found.at_most.as_ref().is_none_or(|limit| limit.shown);
    if context.json() {
        context.out_json(
            &json!({ "schema": SCHEMA, "ok": met, "simulation": found, "problems": problems_json(problems) }),
        );
    } else if context.html() {
        match page::simulation(&simulation(&told)) {
            Ok(page) => context.out(&page),
            Err(fault) => {
                context.note(&fault.to_string());
                return Some(Exit::Defect);
            }
        }
    } else {
        context.out(&text(&told));
    }
    if let (Some(count), Some(into)) = (args.keep, &args.into) {
        keep(args, (count, into), stand, &settings, &bench, &tally, context, problems)?;
    }
    Some(match (partial, met) {
        (true, _) => Exit::Interrupted,
        (false, true) => Exit::Well,
        (false, false) => Exit::NotMet,
    })
}

/// The jobs of one question, done here.
struct Work<'a> {
    args: &'a Simulate,
    context: &'a Context,
    stand: &'a Stand,
    settings: &'a Settings,
    stop: &'a Arc<AtomicBool>,
}

impl Work<'_> {
    /// Up to each of `ends` in turn, and no further where all is clear by then. The runs that were done.
    fn run(
        &self,
        runs: &Range<u32>,
        ends: &[u64],
        is_clear: &dyn Fn(&Tally) -> bool,
        tally: &mut Tally,
        problems: &mut Problems,
    ) -> Option<Range<u32>> {
        let interrupted = super::signals::noted();
        let mut first = runs.start;
        for end in ends {
            let end = runs.start + *end as u32;
            let done = AtomicU32::new(0);
            let made = || self.stand.bench(&self.stand.files, &mut Problems::new());
            let watch = progress::Progress::new(self.context, first..end, &done, self.stop, &interrupted);
            let run = || self.settings.run(first..end, self.args.threads(), self.stop, &done, &made, tally);
            if let Err(failed) = watch.during(run) {
                problems.extend(failed.map(|failed| failed.told(self.settings)));
                return None;
            }
            first = end;
            if self.stop.load(Ordering::Relaxed) || is_clear(tally) {
                break;
            }
        }
        Some(runs.start..runs.start + tally.jobs as u32)
    }
}

/// Keeps those that matter most: claimed shown, and harmed; then the first ones.
#[expect(clippy::too_many_arguments, reason = "all that a simulation is made of")]
fn keep(
    args: &Simulate,
    (count, into): (usize, &std::path::Path),
    stand: &Stand,
    settings: &Settings,
    bench: &Bench<'_>,
    tally: &Tally,
    context: &Context,
    problems: &mut Problems,
) -> Option<()> {
    let begun = args.runs.as_ref().map_or(0, |runs| runs.start);
    let first = (begun..begun + tally.jobs as u32).filter(|run| !tally.false_shown.contains(run));
    for run in tally.false_shown.iter().copied().chain(first).take(count) {
        let dir = into.join(format!("simulated-{}-{run}", settings.seed));
        let plan = stand.plan(&stand.files, Some(run), problems)?;
        let kept = match settings.keep(bench, run, plan, &dir) {
            Ok(kept) => kept,
            Err(faults) => {
                problems.extend(faults);
                return None;
            }
        };
        let again = settings.one(bench, run).ok()?;
        if again != kept {
            let message = format!("run {run} did not end alike with a journal and without");
            problems.push(about(&dir, Code::ModelFails, message));
            return None;
        }
        context.note(&format!(
            "kept {}: {}{}",
            dir.display(),
            kept.claim.words(),
            if kept.harmed() { ", harmed" } else { "" }
        ));
    }
    Some(())
}
