//! `simulate`: a procedure over invented units and people.

mod args;
mod gates;
mod job;
mod limit;
mod merge;
mod progress;
mod texts;

use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::about;
pub use args::Simulate;
use gates::gates;
use job::job;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json, nearest};
use standpipe_job::plan::{Inputs, Parsed, Plan, build, typed};
use standpipe_library::{Files, Kind};
use standpipe_simulate::cause::Why;
use standpipe_simulate::count::{Look, Looks};
use standpipe_simulate::report::{Limit, Told, data, text};
use standpipe_simulate::{Bench, Failed, Model, People, Settings, Tally};
use texts::texts;

const SCHEMA: &str = "standpipe.simulation/1";
/// What one look may err.
const ALPHA: f64 = 0.05;
/// Runs whose causes are looked for: each is repeated some ten times.
const LOOKED_INTO: usize = 30;

/// What a simulation is made of. Benches are made of it, one for each thread.
struct Stand {
    files: Files,
    shop: Option<Arc<Source>>,
    model: Model,
    people: People,
    family: String,
    procedure: String,
    seed: u64,
    /// No step is left out.
    whole: bool,
}

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
    let (files, shop) = context.files(None, problems);
    let parsed = Parsed::new(files.clone(), problems);
    let procedure = typed("<PROCEDURE>", &args.procedure);
    parsed.library.find(Kind::Procedure, &procedure, problems)?;
    let model = model(args, &parsed, problems)?;
    let people = typed("--people", &args.people);
    let document = parsed.library.find(Kind::People, &people, problems)?;
    let people = People::read(&document.source, problems)?;
    if !(args.rates.is_finite() && args.rates >= 0.0) {
        let at = typed("--rates", &args.rates.to_string());
        problems.push(Diagnostic::error(Code::WrongArguments, &at.place, "no factor of 0 or more"));
        return None;
    }
    let shop = match (shop, &model.shop) {
        (Some(shop), _) => Some(shop),
        (None, Some(path)) => {
            let file = parsed.library.file(&model.plugin, path);
            if file.is_none() {
                let message = format!("the plugin `{}` has no file `{}`", model.plugin, path.value);
                problems.push(
                    Diagnostic::error(Code::UnknownReference, &path.place, message).help("name one with `--shop`"),
                );
                return None;
            }
            file.map(|file| file.source.clone())
        }
        (None, None) => None,
    };
    let people = people.times(args.rates);
    let (family, procedure) = (args.family.clone(), args.procedure.clone());
    Some(Stand { files, shop, model, people, family, procedure, seed: args.seed, whole: args.without_step.is_empty() })
}

/// The model that is named, or the only one that serves the procedure and is not like another.
fn model(args: &Simulate, parsed: &Parsed, problems: &mut Problems) -> Option<Model> {
    if let Some(id) = &args.model {
        let document = parsed.library.find(Kind::Model, &typed("--model", id), problems)?;
        return Model::read(document, &parsed.library, &parsed.units, problems);
    }
    let mut found = Vec::new();
    for document in parsed.library.documents(Kind::Model) {
        let model = Model::read(document, &parsed.library, &parsed.units, problems);
        found.extend(model.filter(|model| model.serves.iter().any(|id| id.value == args.procedure)));
    }
    let by_itself = |model: &Model| model.like.is_none();
    if found.len() == 1 || found.iter().filter(|model| by_itself(model)).count() == 1 {
        let at = found.iter().position(by_itself).unwrap_or(0);
        return Some(found.swap_remove(at));
    }
    let at = typed("<PROCEDURE>", &args.procedure);
    let known: Vec<&str> = found.iter().map(|model| model.id.as_str()).collect();
    let message = match found.len() {
        0 => format!("no model serves `{}`", args.procedure),
        count => format!("{count} models serve `{}`: {}", args.procedure, known.join(", ")),
    };
    problems.push(Diagnostic::error(Code::UnknownReference, &at.place, message).help("name one: `--model ID`"));
    None
}

impl Stand {
    fn plan(&self, files: &Files, run: Option<u32>, problems: &mut Problems) -> Option<Plan> {
        let job = job(&self.model, &self.family, &self.procedure, self.seed, run);
        let plan = build(Inputs::new(job, self.shop.clone(), files.clone()), problems)?;
        (!has_errors(problems)).then_some(plan)
    }

    fn bench(&self, files: &Files, problems: &mut Problems) -> Option<Bench<'_>> {
        let plan = self.plan(files, None, problems)?;
        let scripts = Parsed::new(files.clone(), &mut Problems::new()).scripts();
        let variant = plan.job.variant.clone();
        Bench::new(plan, &self.model, self.people.clone(), scripts, variant.as_deref(), self.whole, problems)
    }
}

fn simulate(args: &Simulate, context: &Context, stand: &Stand, problems: &mut Problems) -> Option<Exit> {
    let faults = faults(args, &stand.model, problems)?;
    let limit = match &args.at_most {
        None => None,
        Some(text) => match limit::limit(text, &stand.model) {
            Ok(limit) => Some(limit),
            Err(problem) => {
                problems.push(*problem);
                return None;
            }
        },
    };
    let settings =
        Settings { seed: stand.seed, always: faults.0, by_chance: faults.1, rates: args.rates, paired: !args.unpaired };
    let (files, left_out) = texts(args, stand, problems)?;
    // All that is wrong with model and plan is told here, once.
    let bench = stand.bench(&files, problems)?;
    context.report(problems);
    let stop = Arc::new(AtomicBool::new(false));
    let question = [&stand.procedure, &stand.family, &stand.model.id, &stand.people.id].map(String::as_str);
    let follows_from = merge::of(&files, stand.shop.as_deref().map(|shop| shop.text.as_str()), &question, &settings);
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
        let work = Work { args, context, stand, settings: &settings, files: &files, stop: &stop };
        vec![work.run(&runs, &ends, &is_clear, &mut tally, problems)?]
    } else {
        merge::merged(&args.merge, &follows_from, &mut tally, problems)?
    };
    let mut worth = Vec::new();
    if args.gates && !stop.load(Ordering::Relaxed) {
        worth = gates(args, stand, &settings, &bench, &files, problems, &stop)?;
    }
    let partial = stop.load(Ordering::Relaxed);
    let looked_into = if partial { 0 } else { LOOKED_INTO };
    let why =
        tally.false_shown.iter().take(looked_into).map(|run| settings.why(&bench, *run)).collect::<Result<_, _>>();
    let why: Vec<Why> = match why {
        Ok(why) => why,
        Err(failed) => {
            problems.push(told(failed, &settings));
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
        why: &why,
        without: &left_out,
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
    } else {
        context.out(&text(&told));
    }
    if let (Some(count), Some(into)) = (args.keep, &args.into) {
        keep(args, (count, into), stand, &settings, &bench, &files, &tally, context, problems)?;
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
    files: &'a Files,
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
            let made = || self.stand.bench(self.files, &mut Problems::new());
            let watch = progress::Progress::new(self.context, first..end, &done, self.stop, &interrupted);
            let run = || self.settings.run(first..end, self.args.threads(), self.stop, &done, &made, tally);
            if let Err(failed) = watch.during(run) {
                problems.extend(failed.map(|failed| told(failed, self.settings)));
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

/// Faults that every job has, and those that come by chance.
fn faults(args: &Simulate, model: &Model, problems: &mut Problems) -> Option<(Vec<usize>, Vec<usize>)> {
    let mut always = Vec::new();
    for id in &args.fault {
        match model.faults.get_index_of(id.as_str()) {
            Some(index) => always.push(index),
            None => {
                let at = typed("--fault", id);
                let message = format!("the model `{}` knows no fault `{id}`", model.id);
                let problem = Diagnostic::error(Code::UnknownReference, &at.place, message);
                problems.push(match nearest(id, model.faults.keys().map(String::as_str)) {
                    Some(near) => problem.help(format!("did you mean `{near}`?")),
                    None => problem.expected(model.faults.keys().cloned().collect::<Vec<_>>().join(", ")),
                });
            }
        }
    }
    if always.len() < args.fault.len() {
        return None;
    }
    let by_chance = if args.no_faults || !always.is_empty() { Vec::new() } else { (0..model.faults.len()).collect() };
    Some((always, by_chance))
}

/// The run and the seed of what failed, so that it can be done again alone.
fn told(failed: Failed, settings: &Settings) -> Diagnostic {
    let Failed { run, problem } = failed;
    let again = format!("do it again alone: `--seed {} --runs {run}..{}`", settings.seed, run + 1);
    let help = match &problem.help {
        Some(help) => format!("{help}; {again}"),
        None => again,
    };
    let message = format!("run {run} of seed {}: {}", settings.seed, problem.message);
    Diagnostic { message, ..*problem }.help(help)
}

/// Keeps those that matter most: claimed shown, and harmed; then the first ones.
#[expect(clippy::too_many_arguments, reason = "all that a simulation is made of")]
fn keep(
    args: &Simulate,
    (count, into): (usize, &std::path::Path),
    stand: &Stand,
    settings: &Settings,
    bench: &Bench<'_>,
    files: &Files,
    tally: &Tally,
    context: &Context,
    problems: &mut Problems,
) -> Option<()> {
    let begun = args.runs.as_ref().map_or(0, |runs| runs.start);
    let first = (begun..begun + tally.jobs as u32).filter(|run| !tally.false_shown.contains(run));
    for run in tally.false_shown.iter().copied().chain(first).take(count) {
        let dir = into.join(format!("simulated-{}-{run}", settings.seed));
        let plan = stand.plan(files, Some(run), problems)?;
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
