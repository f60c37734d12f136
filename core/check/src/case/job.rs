//! Cases of procedures: a job run from an answers file.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::compare::{self, Tolerance};
use super::written::{JobCase, What, beside};
use super::{Bench, Case, Line, Report};
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_drivers::answers::Answers;
use standpipe_drivers::headless::{self, End, Outcome};
use standpipe_job::plan::{Inputs, Plan, build};
use standpipe_job::{Hold, Machine, OpenJob, State, Verdict};
use standpipe_library::{Kind, Library};
use standpipe_quantity::value::Value;
use standpipe_yaml::{self as yaml, At, Node};

pub fn run(job: &JobCase, case: &Case, bench: &Bench<'_>, report: &mut Report) {
    let library = &bench.parsed.library;
    let file = |name: &str| beside(library, &case.plugin, name).map(|file| file.source.clone());
    let (Some(source), Some(answers)) = (file(&job.job), file(&job.answers)) else { return };
    let shop = shop_of(&source).and_then(|name| file(&name));
    let mut problems = Problems::new();
    let answers = Answers::read(&answers, &mut problems);
    let plan = build(Inputs::new(source, shop, bench.files.clone()), &mut problems);
    problems.retain(Diagnostic::is_error);
    report.problems.extend(problems);
    let (Some(answers), Some(plan)) = (answers, plan) else { return };
    if plan.procedure != job.procedure.value {
        report.problems.push(
            Diagnostic::error(Code::FaultyCase, &job.procedure.place, format!("the job runs `{}`", plan.procedure))
                .help("name the same procedure in the case and in its job"),
        );
        return;
    }
    let folder = bench.scratch.join(&case.plugin).join(case.id.as_str());
    match in_folder(plan, &answers, &case.plugin, bench, &folder) {
        Ok((outcome, done)) => {
            report.reached.job(done.machine(), done.records());
            // A job that waits for more answers is what a case may be about.
            let wanted = |problem: &&Diagnostic| problem.is_error() && problem.code != Code::MissingAnswer;
            report.problems.extend(outcome.problems.iter().filter(wanted).cloned());
            compare_all(job, done.machine(), &outcome, report);
        }
        Err(problems) => report.problems.extend(problems),
    }
}

/// The case with its job and its shop, which name all that is not the procedure's own.
pub fn texts(case: &Case, library: &Library) -> Vec<Arc<Source>> {
    let mut texts = vec![case.id.place.source().clone()];
    if let What::Job(job) = &case.what
        && let Some(file) = beside(library, &case.plugin, &job.job)
    {
        texts.push(file.source.clone());
        let shop = shop_of(&file.source).and_then(|shop| beside(library, &case.plugin, &shop));
        texts.extend(shop.map(|file| file.source.clone()));
    }
    texts
}

pub(super) fn shop_of(job: &Arc<Source>) -> Option<String> {
    yaml::parse(job, &mut Problems::new())?.get("shop")?.as_text().map(str::to_owned)
}

/// Runs the job with its journal in a folder of its own, beside the files that its answers name as evidence.
fn in_folder(
    plan: Plan,
    answers: &Answers,
    plugin: &str,
    bench: &Bench<'_>,
    folder: &Path,
) -> Result<(Outcome, OpenJob), Problems> {
    let unwritten = |fault: std::io::Error| {
        let place = standpipe_diagnostic::source::Place::whole(&Source::new(folder.display().to_string(), ""));
        vec![Diagnostic::error(Code::Unwritable, &place, format!("the folder of the case can't be written: {fault}"))]
    };
    let files: PathBuf = folder.join("files");
    fs::create_dir_all(&files).map_err(unwritten)?;
    for file in bench.parsed.library.files_in(plugin, Kind::Case) {
        let name = file.path.rsplit('/').next().unwrap_or(&file.path);
        let mut copy = standpipe_disk::create(&files.join(name)).map_err(unwritten)?;
        copy.write_all(file.source.text.as_bytes()).map_err(unwritten)?;
    }
    let mut job = OpenJob::open(&folder.join("journal"), Hold::Begin(Box::new(plan)))?;
    let outcome = headless::run(&mut job, answers, &files, None);
    Ok((outcome, job))
}

fn compare_all(job: &JobCase, machine: &Machine, outcome: &Outcome, report: &mut Report) {
    let (expect, state) = (&job.expect, &outcome.state);
    let mut word = |what: &str, expected: &At<String>, found: String| {
        report.lines.push(Line {
            what: what.to_owned(),
            holds: expected.value == found,
            expected: expected.value.clone(),
            found,
            difference: None,
            tolerance: None,
            place: expected.place.clone(),
        });
    };
    word("ends", &expect.ends, ends(outcome.end).to_owned());
    if let Some(held_at) = &expect.held_at {
        word("held at", held_at, outcome.pending.step().unwrap_or("nowhere").to_owned());
    }
    if let Some(variant) = &expect.variant {
        word("variant", variant, state.variant.clone().unwrap_or_else(|| "none".to_owned()));
    }
    for (step, verdict) in &expect.verdicts {
        word(&format!("verdict of {}", step.value), verdict, verdict_of(state, step));
    }
    for (step, rounds) in &expect.rounds {
        let found = rounds_of(machine, state, step);
        word(
            &format!("rounds of {}", step.value),
            &At::new(rounds.value.to_string(), rounds.place.clone()),
            found.to_string(),
        );
    }
    let tolerance = Tolerance::read(expect.tolerance.as_ref().map(|text| text.value.as_str()));
    for (path, node) in &expect.values {
        let found = value_of(state, path);
        match expected_value(node, found, machine) {
            Ok(expected) => {
                let line = compare::line(path, &expected, found, &tolerance, &machine.plan.units, &path.place);
                report.lines.push(line);
            }
            Err(problem) => report.problems.push(*problem),
        }
    }
}

pub(super) fn ends(end: End) -> &'static str {
    match end {
        End::Finished => "finished",
        End::Abandoned => "abandoned",
        End::Paused => "paused",
        End::Waiting => "waiting",
        End::Stopped => "stopped",
        End::Refused => "an answer that did not fit",
    }
}

/// The last one that was passed, whatever came of it.
pub(super) fn verdict_of(state: &State, step: &str) -> String {
    match state.verdicts.iter().rev().find(|passed| passed.address.step == step) {
        Some(passed) if passed.accepted => "accepted".to_owned(),
        Some(passed) => match passed.verdict {
            Verdict::Met => "met".to_owned(),
            Verdict::NotMet => "not met".to_owned(),
            Verdict::NotShown => "not shown".to_owned(),
        },
        None => "none".to_owned(),
    }
}

pub(super) fn rounds_of(machine: &Machine, state: &State, repeat: &str) -> u32 {
    let of_repeat = |step: &str| step == repeat || machine.plan.enclosing_repeat(step) == Some(repeat);
    let begun = state
        .steps
        .iter()
        .map(|(address, _)| address)
        .chain(&state.rounds_over)
        .filter(|address| of_repeat(&address.step));
    begun.filter_map(|address| address.rounds.last().copied()).max().unwrap_or(0)
}

pub(super) fn value_of<'a>(state: &'a State, path: &str) -> Option<&'a Value> {
    let (name, rest) = path.split_once('.').unwrap_or((path, ""));
    let value = &state.readings.iter().rev().find(|reading| reading.name == name && !reading.rejected)?.value;
    let parts: Vec<&str> = rest.split('.').filter(|part| !part.is_empty()).collect();
    value.at(&parts)
}

/// Read as what was found: a text is a text, a quantity has its unit.
fn expected_value(node: &Node, found: Option<&Value>, machine: &Machine) -> Result<Value, Box<Diagnostic>> {
    let units = &machine.plan.units;
    let Some(text) = node.as_text() else {
        return Err(Box::new(
            Diagnostic::error(
                Code::FaultyCase,
                &node.head(),
                format!("expected one value, found {}", node.described()),
            )
            .help("name the part that is meant, as `ledger.net`"),
        ));
    };
    let read = match found {
        Some(Value::Quantity(quantity)) => units.read(text, quantity.of.as_deref(), None),
        // A share may be written with its unit.
        Some(Value::Number(_)) => units.read(text, None, None).map(|value| match value {
            Value::Quantity(share) if share.dimension.is_none() => Value::Number(share.si),
            value => value,
        }),
        Some(Value::Range(low, _)) => units.read_range(text, low.of.as_deref(), None),
        Some(Value::Truth(_)) if text == "true" || text == "false" => return Ok(Value::Truth(text == "true")),
        _ => return Ok(Value::Text(text.to_owned())),
    };
    read.map_err(|fault| Box::new(fault.at(&node.text_place())))
}
