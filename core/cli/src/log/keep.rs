//! `--keep`: the log becomes evidence of its job, and what it shows an event.

use jiff::civil::DateTime;

use super::around::Ground;
use crate::args::Log;
use crate::job_folder::{about, folder_of};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::event::{KeptLog, LogVerdict, Origin};
use standpipe_job::journal::evidence;
use standpipe_job::plan::typed;
use standpipe_job::{Input, Journal, What, replay};
use standpipe_log::{Around, Choices, Description, Judged};
use standpipe_quantity::value::Value;

/// None where it could not be kept; `problems` say why.
pub fn keep(
    args: &Log,
    ground: &Ground,
    description: &Description,
    choices: &Choices,
    (around, checks, zero): (&Around, &[Judged], Option<DateTime>),
    problems: &mut Problems,
) -> Option<()> {
    let folder = folder_of(args.job.as_ref()?).map_err(|fault| problems.push(*fault)).ok()?;
    if !ground.of_plan && !ground.beside_plan {
        problems.push(
            about(
                &folder,
                Code::BrokenJournal,
                "no plugin of this job describes its logs, so nobody could judge it again",
            )
            .help("leave `--keep` out, and attach the file to the job instead"),
        );
        return None;
    }
    let at: DateTime = match &args.at {
        None => crate::run::now(),
        Some(text) => match text.parse() {
            Ok(at) => at,
            Err(_) => {
                let place = typed("--at", text).place;
                problems.push(
                    Diagnostic::error(Code::WrongArguments, &place, format!("`{text}` is not a date with a time"))
                        .help("write e.g. `--at 2026-11-05T09:10:00`"),
                );
                return None;
            }
        },
    };
    let mut reopened = Journal::open(&folder).map_err(|found| problems.extend(found)).ok()?;
    let machine = ground.machine.as_ref()?;
    let state = replay::replay(&reopened.contents.records);
    // Before anything is copied: a closed job takes no more evidence.
    if !state.is_open() {
        problems.push(
            about(&folder, Code::UnfitAnswer, "the job is closed, and keeps no more")
                .help("leave `--keep` out, or open a new job that names this one"),
        );
        return None;
    }
    let place = Place::whole(&Source::new(args.file.display().to_string(), ""));
    let kept = evidence::keep(&folder, &args.file, &place).map_err(|fault| problems.push(*fault)).ok()?;
    let text = &description.place.source().text;
    let description_kept = ground
        .beside_plan
        .then(|| evidence::keep_text(&folder, &format!("{}.yaml", description.id), text, &place))
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
        zero,
        events: around.events.clone(),
        job_time: around.job_time,
        verdicts: verdicts.collect(),
    };
    let input =
        Input { at, entered_at: None, by: args.by.clone()?, origin: Origin::Log, what: What::KeepLog(Box::new(log)) };
    let records = match machine.decide(&state, &input) {
        Ok(records) => records,
        Err(refusal) => {
            problems.push(refusal.at(&typed("--keep", &input.by).place));
            return None;
        }
    };
    reopened.journal.append(&records).map_err(|fault| problems.push(*fault)).ok()
}
