//! `run`: runs a job from its file, or goes on with it.

use std::path::{Path, PathBuf};

use serde_json::json;
use standpipe_job::Moment;

use super::Exit;
use super::args::Run;
use super::context::Context;
use super::job_folder::about;
use super::reader;
use super::sign::{Pen, wanting};
use standpipe_audit::{Asked, audit};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use standpipe_drivers::answers::Answers;
use standpipe_drivers::{headless, terminal};
use standpipe_job::plan::{Kept, RawJob, build};
use standpipe_job::{Hold, Journal, OpenJob, Phase};
use standpipe_library::{Files, read_file};
use standpipe_report::record::{self, RecordView};
use standpipe_report::{count, tag};

const SCHEMA: &str = "standpipe.run/1";

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
    let mut at_hand = match at_hand(args, context, &mut problems) {
        Ok(at_hand) => at_hand,
        Err(fatal) => {
            problems.extend(fatal);
            context.failed(SCHEMA, &problems);
            return Exit::Usage;
        }
    };
    let pen = args.by.as_deref().zip(args.key.as_deref()).map(|(by, key)| Pen::take(&mut at_hand, by, key));
    let pen = match pen.transpose() {
        Ok(pen) => pen,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    context.report(&problems);
    // What this run records follows by itself; what it found in the journal is looked at again when it is shown.
    let resumed = !at_hand.records().is_empty();
    match answers {
        Some(answers) => from_answers(at_hand, (resumed, pen), &answers, args, context, problems),
        None => at_terminal(at_hand, (resumed, pen), args, context, problems),
    }
}

/// The job at hand: new, or as its journal has it.
fn at_hand(args: &Run, context: &Context, problems: &mut Problems) -> Result<OpenJob, Problems> {
    // The folder of a job stands for the job.
    if args.job.is_dir() {
        if !Journal::is_in(&args.job) {
            return Err(vec![
                about(&args.job, Code::FaultyJob, format!("{} is a folder without a journal", args.job.display()))
                    .expected("a job file, or the folder of a job that is under way"),
            ]);
        }
        let at_hand = OpenJob::open(&args.job, Hold::Write)?;
        problems.extend(other_texts(&at_hand, &Files::built_in()));
        return Ok(at_hand);
    }
    let inputs = context.inputs(&args.job, problems).ok_or_else(|| std::mem::take(problems))?;
    let folder = match &args.journal {
        Some(folder) => folder.clone(),
        None => beside(&args.job),
    };
    if Journal::is_in(&folder) {
        let at_hand = OpenJob::open(&folder, Hold::Write)?;
        let kept = &at_hand.plan().job.id;
        if RawJob::read(&inputs.job, &mut Problems::new()).is_some_and(|job| job.id.value != *kept) {
            return Err(vec![
                about(&folder, Code::BrokenJournal, format!("the journal there is that of job {kept}"))
                    .expected(format!("the journal of the job in {}", args.job.display()))
                    .help("name another folder with `--journal DIR`"),
            ]);
        }
        problems.extend(other_texts(&at_hand, &inputs.files));
        let mut fresh = Problems::new();
        let same = build(inputs, &mut fresh).is_some_and(|plan| plan.snapshot.says_the_same(&at_hand.plan().snapshot));
        if !same {
            problems.push(
                Diagnostic {
                    severity: standpipe_diagnostic::Severity::Note,
                    ..about(&args.job, Code::FilesChanged, "the files have changed since the job was planned")
                }
                .help("the job goes on as it was planned; what is new counts for the next one, or for this one by `standpipe amend`"),
            );
        }
        return Ok(at_hand);
    }
    let plan = build(inputs, problems).ok_or_else(|| std::mem::take(problems))?;
    OpenJob::open(&folder, Hold::Begin(Box::new(plan)))
}

/// The folder named after the job file, beside it.
fn beside(job: &Path) -> PathBuf {
    let stem = job.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    job.with_file_name(format!("{stem}.job"))
}

/// Texts of the plan that are others than those at hand of the same name and version.
fn other_texts(job: &OpenJob, files: &Files) -> Option<Diagnostic> {
    let differing = standpipe_audit::differing(&job.plan().snapshot, files);
    let (first, more) = differing.split_first()?;
    let more = if more.is_empty() { String::new() } else { format!(", and {} more", more.len()) };
    let message = format!("the plan of the job is not that of the plugins it names: {first}{more}");
    let problem = about(job.dir(), Code::FilesChanged, message);
    let problem = Diagnostic { severity: standpipe_diagnostic::Severity::Warning, ..problem };
    Some(
        problem.help("the job goes on by its own plan, and its record is not shown in full; find out who changed what"),
    )
}

fn from_answers(
    mut job: OpenJob,
    at: (bool, Option<Pen>),
    answers: &Answers,
    args: &Run,
    context: &Context,
    mut problems: Problems,
) -> Exit {
    let folder = args.answers.as_deref().and_then(Path::parent).unwrap_or(Path::new("")).to_owned();
    let mut feed = match reader::beside_answers(args, &job, context) {
        Ok(feed) => feed,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let outcome = headless::run(&mut job, answers, &folder, feed.as_mut());
    if outcome.skipped > 0 && !context.json() {
        context.note(&format!("{} answers are in the journal already", outcome.skipped));
    }
    context.report(&outcome.problems);
    let exit = match outcome.code() {
        0 => Exit::Well,
        1 => Exit::NotMet,
        3 => Exit::NotFinished,
        _ => Exit::Usage,
    };
    problems.extend(outcome.problems);
    finish(&job, at, problems, exit, context)
}

fn at_terminal(mut job: OpenJob, at: (bool, Option<Pen>), args: &Run, context: &Context, problems: Problems) -> Exit {
    let reader = match reader::at_terminal(args, &job, context) {
        Ok(reader) => reader,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let seat = terminal::Seat { who: args.by.clone().unwrap_or_default(), colour: context.color_err(), reader };
    let ended = terminal::run_terminal(&mut job, &Moment::now, seat);
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
            let place = Place::whole(&Source::new("<terminal>", ""));
            context.failed(SCHEMA, &[refusal.clone().at(&place)]);
            return Exit::Usage;
        }
        terminal::Outcome::Stuck => Exit::Defect,
    };
    finish(&job, at, problems, exit, context)
}

fn checked(job: &OpenJob, resumed: bool, view: RecordView) -> RecordView {
    if resumed { view.checked(&audit(job.dir(), &Asked::default(), &mut Kept::default())) } else { view }
}

fn finish(
    job: &OpenJob,
    (resumed, pen): (bool, Option<Pen>),
    mut problems: Problems,
    exit: Exit,
    context: &Context,
) -> Exit {
    if let Some(pen) = &pen {
        let unsigned = pen.problems(job);
        context.report(&unsigned);
        problems.extend(unsigned);
    }
    let folder = context.json().then(|| job.dir());
    let view = checked(job, resumed, record::view(job.machine(), job.records(), Some(&job.seal()), folder));
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "journal": job.dir(), "record": view,
            "problems": problems_json(&problems),
        }));
        return exit;
    }
    context.out(&record::summary(&view, context.width(), context.color_out()));
    if job.state().phase == Phase::Paused {
        context.out(&format!("\n{}", tag::of(job.machine(), job.state())));
    }
    context.out(&format!("journal: {}\n", job.dir().display()));
    if let Some(pen) = pen.filter(|pen| pen.signed() > 0) {
        context.note(&format!("{} signed by key", count(pen.signed(), "act")));
    }
    if let Some(wanting) = wanting(job) {
        context.note(&wanting);
    }
    exit
}
