//! `run`: runs a job from its file, or goes on with it.

use std::path::{Path, PathBuf};

use jiff::ZonedDateTime;
use jiff::civil::DateTime;
use serde_json::json;

use super::Exit;
use super::args::Run;
use super::context::Context;
use super::job_folder::{about, kept_plan};
use super::reader;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use standpipe_drivers::answers::Answers;
use standpipe_drivers::{headless, terminal};
use standpipe_job::journal::{Reopened, evidence};
use standpipe_job::plan::{Plan, RawJob, build};
use standpipe_job::{Journal, Machine, Record, State, replay};
use standpipe_library::read_file;
use standpipe_report::{record, tag};

const SCHEMA: &str = "standpipe.run/1";

/// A job at hand: new, or as its journal has it.
struct AtHand {
    machine: Machine,
    journal: Journal,
    records: Vec<Record>,
    ends: Vec<u64>,
    folder: PathBuf,
}

pub fn run(args: &Run, context: &Context) -> Exit {
    super::signals::watch();
    let mut problems = Problems::new();
    if let Err(fault) = reader::refuse(args) {
        context.failed(SCHEMA, &[*fault]);
        return Exit::Usage;
    }
    // Answers that can't be read must not leave an opened job behind.
    let answers = match &args.answers {
        None => None,
        Some(path) => match read_file(path, &mut problems).and_then(|source| Answers::read(&source, &mut problems)) {
            Some(answers) if !has_errors(&problems) => Some(answers),
            _ => {
                context.failed(SCHEMA, &problems);
                return Exit::Usage;
            }
        },
    };
    let at_hand = match at_hand(args, context, &mut problems) {
        Ok(at_hand) => at_hand,
        Err(fatal) => {
            problems.extend(fatal);
            context.failed(SCHEMA, &problems);
            return Exit::Usage;
        }
    };
    context.report(&problems);
    match answers {
        Some(answers) => from_answers(at_hand, &answers, args, context, problems),
        None => at_terminal(at_hand, args, context, problems),
    }
}

fn at_hand(args: &Run, context: &Context, problems: &mut Problems) -> Result<AtHand, Problems> {
    // The folder of a job stands for the job.
    if args.job.is_dir() {
        if !Journal::is_in(&args.job) {
            return Err(vec![
                about(&args.job, Code::FaultyJob, format!("{} is a folder without a journal", args.job.display()))
                    .expected("a job file, or the folder of a job that is under way"),
            ]);
        }
        return go_on(&args.job);
    }
    let inputs = context.inputs(&args.job, problems).ok_or_else(|| std::mem::take(problems))?;
    let folder = match &args.journal {
        Some(folder) => folder.clone(),
        None => beside(&args.job),
    };
    if Journal::is_in(&folder) {
        let at_hand = go_on(&folder)?;
        let kept = &at_hand.machine.plan.job.id;
        if RawJob::read(&inputs.job, &mut Problems::new()).is_some_and(|job| job.id.value != *kept) {
            return Err(vec![
                about(&folder, Code::BrokenJournal, format!("the journal there is that of job {kept}"))
                    .expected(format!("the journal of the job in {}", args.job.display()))
                    .help("name another folder with `--journal DIR`"),
            ]);
        }
        let mut fresh = Problems::new();
        let same = build(inputs, &mut fresh).is_some_and(|plan| plan.hash == at_hand.machine.plan.hash);
        if !same {
            problems.push(
                Diagnostic {
                    severity: standpipe_diagnostic::Severity::Note,
                    ..about(&args.job, Code::FilesChanged, "the files have changed since the job was planned")
                }
                .help("the job goes on as it was planned; what is new counts for the next one"),
            );
        }
        return Ok(at_hand);
    }
    let plan = build(inputs, problems).ok_or_else(|| std::mem::take(problems))?;
    let journal = Journal::create(&folder, &plan.snapshot.json()).map_err(|fault| vec![*fault])?;
    Ok(AtHand { machine: Machine::new(plan), journal, records: Vec::new(), ends: Vec::new(), folder })
}

/// The folder named after the job file, beside it.
fn beside(job: &Path) -> PathBuf {
    let stem = job.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    job.with_file_name(format!("{stem}.job"))
}

fn go_on(folder: &Path) -> Result<AtHand, Problems> {
    let Reopened { journal, contents } = Journal::open(folder)?;
    let plan: Plan = kept_plan(&contents.plan, folder)?;
    Ok(AtHand {
        machine: Machine::new(plan),
        journal,
        records: contents.records,
        ends: contents.ends,
        folder: folder.to_owned(),
    })
}

fn from_answers(mut job: AtHand, answers: &Answers, args: &Run, context: &Context, mut problems: Problems) -> Exit {
    let folder = args.answers.as_deref().and_then(Path::parent).unwrap_or(Path::new("")).to_owned();
    let before = job.records.clone();
    let mut feed = match reader::beside_answers(args, &job.machine, &job.folder, context) {
        Ok(feed) => feed,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let mut added = Vec::new();
    let outcome = headless::run(
        headless::Job {
            machine: &job.machine,
            journal: &mut job.journal,
            records: &before,
            ends: &job.ends,
            feed: feed.as_mut(),
        },
        answers,
        &folder,
        &mut |_, records| added.extend_from_slice(records),
    );
    job.records.extend(added);
    if outcome.skipped > 0 && !context.json() {
        context.note(&format!("{} answers stand in the journal already", outcome.skipped));
    }
    context.report(&outcome.problems);
    let exit = match outcome.code() {
        0 => Exit::Well,
        1 => Exit::NotMet,
        3 => Exit::NotFinished,
        _ => Exit::Usage,
    };
    problems.extend(outcome.problems);
    finish(&job, &problems, exit, context)
}

fn at_terminal(mut job: AtHand, args: &Run, context: &Context, problems: Problems) -> Exit {
    let ear = match reader::at_terminal(args, &job.machine, &job.folder, context) {
        Ok(ear) => ear.map(|(following, live, source)| terminal::Ear::new(following, live, source)),
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let state: State = replay::replay(&job.records);
    let mut added: Vec<Record> = Vec::new();
    let journal = std::cell::RefCell::new(&mut job.journal);
    let folder = job.folder.clone();
    let place = Place::whole(&Source::new("<terminal>", ""));
    let ended = terminal::run_terminal(
        &job.machine,
        state,
        &mut |records| {
            journal.borrow_mut().append(records)?;
            added.extend_from_slice(records);
            Ok(())
        },
        &mut |file| evidence::keep(&folder, file, &place),
        &now,
        terminal::Seat {
            who: args.by.clone().unwrap_or_default(),
            colour: context.color_err(),
            ear,
            dir: job.folder.clone(),
        },
    );
    job.records.extend(added);
    let ended = match ended {
        Ok(ended) => ended,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let exit = match &ended.outcome {
        terminal::Outcome::Finished => Exit::Well,
        terminal::Outcome::Abandoned => Exit::NotMet,
        terminal::Outcome::Paused { .. } | terminal::Outcome::Left => Exit::NotFinished,
        terminal::Outcome::Interrupted => Exit::Interrupted,
        terminal::Outcome::Refused(refusal) => {
            context.failed(SCHEMA, &[refusal.clone().at(&place)]);
            return Exit::Usage;
        }
        terminal::Outcome::Stuck => Exit::Defect,
    };
    finish(&job, &problems, exit, context)
}

/// Local time, as the clock on the wall has it.
pub fn now() -> DateTime {
    ZonedDateTime::now().datetime().round(jiff::Unit::Second).unwrap_or_default()
}

fn finish(job: &AtHand, problems: &Problems, exit: Exit, context: &Context) -> Exit {
    if context.json() {
        let seal = job.journal.seal();
        let view = record::view(&job.machine, &job.records, Some(&seal), Some(&job.folder));
        context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "journal": job.folder, "record": view,
            "problems": problems_json(problems),
        }));
        return exit;
    }
    let seal = job.journal.seal();
    let view = record::view(&job.machine, &job.records, Some(&seal), None);
    context.out(&record::summary(&view, context.width(), context.color_out()));
    let state = replay::replay(&job.records);
    if state.phase == standpipe_job::Phase::Paused {
        context.out(&format!("\n{}", tag::of(&job.machine, &state)));
    }
    context.out(&format!("journal: {}\n", job.folder.display()));
    exit
}
