//! `--keep`: the log becomes evidence of its job, and what it shows an event.

use jiff::civil::DateTime;

use crate::args::Log;
use crate::job_folder::about;
use crate::when;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Problems};
use standpipe_job::event::{KeptLog, LogVerdict, Origin};
use standpipe_job::journal::evidence;
use standpipe_job::plan::typed;
use standpipe_job::{Given, OpenJob, What, When};
use standpipe_log::{Around, Choices, Description, Ground, Judged};
use standpipe_quantity::value::Value;

/// None where it could not be kept; `problems` say why.
pub fn keep(
    args: &Log,
    job: Option<OpenJob>,
    ground: &Ground,
    description: &Description,
    (choices, around, checks, zero): (&Choices, &Around, &[Judged], Option<DateTime>),
    problems: &mut Problems,
) -> Option<()> {
    let mut job = job?;
    if !ground.of_plan && !ground.beside_plan {
        problems.push(
            about(
                job.dir(),
                Code::BrokenJournal,
                "no plugin of this job describes its logs, so nobody could judge it again",
            )
            .help("leave `--keep` out, and attach the file to the job instead"),
        );
        return None;
    }
    let at = when::told(args.at.as_deref(), &job).map_err(|fault| problems.push(*fault)).ok()?;
    let clock = job.state().at.unwrap_or_default();
    job.take().map_err(|found| problems.extend(found)).ok()?;
    // Before anything is copied: a closed job takes no more evidence.
    if !job.state().is_open() {
        problems.push(
            about(job.dir(), Code::UnfitAnswer, "the job is closed, and keeps no more")
                .help("leave `--keep` out, or open a new job that names this one"),
        );
        return None;
    }
    let place = Place::whole(&Source::new(args.file.display().to_string(), ""));
    let kept = job.keep(&args.file, &place).map_err(|fault| problems.push(*fault)).ok()?;
    let text = &description.place.source().text;
    let description_kept = ground
        .beside_plan
        .then(|| evidence::keep_text(job.dir(), &format!("{}.yaml", description.id), text, &place))
        .transpose()
        .map_err(|fault| problems.push(*fault))
        .ok()?;
    let verdicts = checks.iter().map(|check| LogVerdict {
        check: check.id.clone(),
        title: check.title.clone(),
        verdict: check.verdict,
        missing: check.missing.clone(),
    });
    let log = KeptLog {
        evidence: kept,
        log: description.id.clone(),
        description: description_kept,
        said: choices.written(),
        window: around.window.clone().map(|(low, high)| Value::Range(low, high)),
        zero: zero.map(|zero| clock.at_wall(zero)),
        events: around.events.clone(),
        job_time: around.job_time,
        verdicts: verdicts.collect(),
    };
    let by = args.by.clone()?;
    let place = typed("--keep", &by).place;
    let when = When::Told { at, entered_at: None };
    let given =
        Given { id: None, on: None, via: None, by, origin: Origin::Log, when, what: What::KeepLog(Box::new(log)) };
    job.give(given, at).map_err(|not_kept| problems.push(not_kept.at(&place))).ok().map(|_| ())
}
