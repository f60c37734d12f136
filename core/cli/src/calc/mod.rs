//! `calc`: one calculation, or a table of them.

mod data;
mod given;
mod page;
mod shown;
mod table;
mod takes;

use std::num::NonZero;
use std::sync::Arc;
use std::thread;

use indexmap::IndexMap;

use super::Exit;
use super::args::{Calc, Format};
use super::context::Context;
use crate::progress::Progress;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors};
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{Kind, Shop};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_script::Fault;
use standpipe_sheet::uncertainty::{self, Plan, Propagated, Spread};
use standpipe_sheet::{Outcome, Sheet};
use standpipe_yaml::At;

const SCHEMA: &str = "standpipe.calc/1";

/// A sheet with all it needs to run.
struct Desk {
    parsed: Parsed,
    units: Arc<Units>,
    shop: Shop,
    sheet: Sheet,
    /// Where the sheet was asked for.
    asked: At<String>,
}

/// A calculation that ran, whatever came of it.
struct Done {
    given: IndexMap<String, Value>,
    spreads: IndexMap<String, Spread>,
    explained: bool,
    /// Empty unless asked for.
    steps: IndexMap<String, Value>,
    outcome: Option<Outcome>,
    /// Where an input is uncertain, what that makes of the result.
    uncertain: Option<Propagated>,
    seed: u64,
    /// Inputs that were left out and have a default.
    defaults: Vec<String>,
}

pub fn run(args: &Calc, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let Some(desk) = Desk::open(args, context, &mut problems) else {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    if let Some(path) = &args.table {
        return table::run(path, args, &desk, context, problems);
    }
    if args.inputs.is_empty() && desk.sheet.inputs.keys().any(|name| !desk.sheet.is_optional(name)) {
        context.report(&problems);
        takes::show(&desk, context);
        return Exit::Well;
    }
    let (done, exit) = calculate(args, &desk, &mut problems);
    context.report(&problems);
    match context.common.format {
        Format::Json => context.out_json(&data::json(&done, &desk, exit, &problems)),
        Format::Csv if done.outcome.is_some() => context.out(&data::csv(&done, &desk)),
        Format::Csv => {}
        // The messages say it all.
        _ if done.outcome.is_none() && done.steps.is_empty() => {}
        _ => context.out(&page::text(&done, &desk, context.width())),
    }
    exit
}

fn calculate(args: &Calc, desk: &Desk, problems: &mut Problems) -> (Done, Exit) {
    let (sheet, units) = (&desk.sheet, &*desk.units);
    let before = problems.len();
    let given = given::read(&args.inputs, desk, problems);
    let mut done = Done {
        defaults: sheet.inputs.keys().filter(|name| !given.values.contains_key(*name)).cloned().collect(),
        given: given.values.clone(),
        spreads: given.spreads.clone(),
        explained: args.explain,
        steps: IndexMap::new(),
        outcome: None,
        uncertain: None,
        seed: args.seed,
    };
    let checked = sheet.check_inputs(given.values, units, &given.places);
    if has_errors(&problems[before..]) {
        // What is wrong beyond what could not be read; a missing input may be the one that was misspelt.
        problems.extend(checked.err().into_iter().flat_map(|refused| refused.problems).filter(Diagnostic::is_error));
        return (done, Exit::Usage);
    }
    let checked = match checked {
        Ok(checked) => checked,
        Err(refused) if refused.problems.is_empty() => {
            problems.push(not_shown(&refused.unknown, &desk.asked.place));
            return (done, Exit::NotFinished);
        }
        Err(refused) => {
            let usage = refused.problems.iter().any(|problem| problem.code == Code::FaultyInput);
            problems.extend(refused.problems);
            return (done, if usage { Exit::Usage } else { Exit::NotMet });
        }
    };
    for name in &done.defaults {
        if let Some(value) = checked.values.get(name) {
            done.given.insert(name.clone(), value.clone());
        }
    }
    let scripts = desk.parsed.scripts();
    let inputs = checked.values.clone();
    let result = if args.explain {
        let (result, steps) = sheet.explain(&scripts, checked);
        done.steps = steps;
        result
    } else {
        sheet.run_checked(&scripts, checked)
    };
    match result {
        Ok(outcome) => {
            done.outcome = Some(outcome);
            if given.spreads.is_empty() {
                return (done, Exit::Well);
            }
            match propagated(args, desk, &inputs, &given.spreads) {
                Ok(propagated) => done.uncertain = Some(propagated),
                Err(problem) => {
                    problems.push(*problem);
                    return (done, Exit::NotMet);
                }
            }
            (done, Exit::Well)
        }
        Err(Fault::NotShown(names)) => {
            problems.push(not_shown(&names, &desk.asked.place));
            (done, Exit::NotFinished)
        }
        Err(Fault::Failed(problem)) => {
            let exit = if problem.code == Code::FaultySheet { Exit::Usage } else { Exit::NotMet };
            problems.push(*problem);
            (done, exit)
        }
    }
}

fn propagated(
    args: &Calc,
    desk: &Desk,
    inputs: &IndexMap<String, Value>,
    spreads: &IndexMap<String, Spread>,
) -> Result<Propagated, Box<Diagnostic>> {
    let threads = thread::available_parallelism().map_or(1, NonZero::get);
    let plan = Plan { seed: args.seed, threads, ..Plan::new(&desk.sheet, &desk.units, inputs, spreads) };
    let mut progress = Progress::of_trials();
    let mut watch = |trials: u64| progress.tell(trials, 0);
    let found = uncertainty::propagate(&plan, &|| desk.parsed.scripts(), &mut watch);
    progress.end();
    found.map_err(|fault| {
        Box::new(
            Diagnostic::error(Code::InputBeyondLimit, &desk.asked.place, fault.message()).help(
                "inputs that may be off so far can have values that the sheet does not take; write limits with `±`",
            ),
        )
    })
}

fn not_shown(names: &[String], place: &Place) -> Diagnostic {
    let names = names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
    Diagnostic::error(Code::ResultNotShown, place, format!("nothing can be shown: {names} is not known"))
}

impl Desk {
    fn open(args: &Calc, context: &Context, problems: &mut Problems) -> Option<Self> {
        let (files, shop) = context.files(None, problems);
        let wanted = context.common.shop.is_some();
        let parsed = Parsed::new(files, problems);
        let units = parsed.units.clone();
        let shop = match shop {
            Some(source) => Shop::read(&source, &units, problems)?,
            None if wanted => return None,
            None => Shop::default(),
        };
        let asked = typed("<argument 1>", &args.sheet);
        let document = parsed.library.find(Kind::Sheet, &asked, problems)?;
        let sheet = Sheet::read(&document.source, &document.plugin, &units, problems)?;
        Some(Self { units, shop, sheet, asked, parsed })
    }
}
