//! `--reader`: what is followed, and how its columns are told.

use std::io::Read;
use std::path::Path;

use super::args::{Run, Said, Serve};
use super::context::Context;
use super::job_folder::about;
use super::said::said;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_drivers::LiveReader;
use standpipe_drivers::feed::Feed;
use standpipe_job::OpenJob;
use standpipe_job::plan::{Parsed, Plan};
use standpipe_library::Shop;
use standpipe_log::{Choices, Wanted};
use standpipe_stream::{Live, Raw, Source, columns, described, follow, wanted};

type Fault = Box<Diagnostic>;

/// Standard input can't be a reader while it is the keyboard; and options of a reader need one.
pub fn refuse(args: &Run) -> Result<(), Fault> {
    needs_a_reader(args.reader.as_deref(), &args.said, &args.job)?;
    match &args.reader {
        Some(path) if is_standard(path) && args.answers.is_none() => Err(Box::new(
            about(path, Code::WrongArguments, "standard input can't be a reader and the keyboard at once")
                .expected("a file that grows, or answers from a file beside it")
                .help("let the reader write to a file and name that: `--reader FILE`; or add `--answers FILE`"),
        )),
        _ => Ok(()),
    }
}

/// The same for pages: each job that is connected to the reader begins to follow it anew.
pub fn refuse_at_pages(args: &Serve) -> Result<(), Fault> {
    needs_a_reader(args.reader.as_deref(), &args.said, &args.jobs)?;
    match &args.reader {
        Some(path) if is_standard(path) => Err(Box::new(
            about(path, Code::WrongArguments, "standard input can't be followed by one job after another")
                .expected("a file that grows")
                .help("let the reader write to a file and name that: `--reader FILE`"),
        )),
        _ => Ok(()),
    }
}

fn needs_a_reader(reader: Option<&Path>, said: &Said, at: &Path) -> Result<(), Fault> {
    match said.given() {
        Some(option) if reader.is_none() => Err(Box::new(
            about(at, Code::WrongArguments, format!("`{option}` says how a reader is meant, and there is none"))
                .expected("--reader FILE beside it")
                .help("name the reader's file, or leave the option out"),
        )),
        _ => Ok(()),
    }
}

fn is_standard(path: &Path) -> bool {
    path.as_os_str() == "-"
}

pub fn name(path: &Path) -> String {
    if is_standard(path) {
        return "standard input".to_owned();
    }
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

/// A reader beside answers: read to the time of each.
pub fn beside_answers(args: &Run, job: &OpenJob, context: &Context) -> Result<Option<Feed>, Fault> {
    let Some(path) = &args.reader else { return Ok(None) };
    let input: Box<dyn Read> = if is_standard(path) {
        Box::new(std::io::stdin())
    } else {
        Box::new(standpipe_disk::stream(path).map_err(|fault| unread(path, &fault))?)
    };
    Ok(Some(Feed::new(live(&args.said, path, job, context)?, &name(path), input)))
}

/// A reader at a terminal: followed as it grows.
pub fn at_terminal(args: &Run, job: &OpenJob, context: &Context) -> Result<Option<LiveReader>, Fault> {
    args.reader.as_ref().map(|path| followed(&args.said, path, job, context)).transpose()
}

/// A reader's file, followed as it grows.
pub fn followed(said: &Said, path: &Path, job: &OpenJob, context: &Context) -> Result<LiveReader, Fault> {
    let live = live(said, path, job, context)?;
    let following = follow(&Source::File(path.to_owned())).map_err(|fault| unread(path, &fault))?;
    Ok(LiveReader::new(following, live, name(path)))
}

fn unread(path: &Path, fault: &std::io::Error) -> Fault {
    Box::new(
        about(path, Code::UnreadableFile, format!("the reader's file can't be read: {fault}"))
            .expected("a file that the reader writes to")
            .help("start the reader first, or check the path"),
    )
}

fn live(options: &Said, path: &Path, job: &OpenJob, context: &Context) -> Result<Live, Fault> {
    let plan = job.plan();
    let columns = columns(plan);
    if columns.is_empty() {
        return Err(Box::new(
            about(path, Code::WrongArguments, "no step of this job awaits a reading, so there is nothing to follow")
                .expected("a procedure with an `await` step")
                .help("leave `--reader` out"),
        ));
    }
    let wanted = recognised(wanted(&columns), plan, context);
    let choices = choices(options, plan, context)?;
    let typed = options.columns.iter().chain(&options.units);
    for named in typed.filter_map(|text| text.split_once('=')).map(|(name, _)| name.trim()) {
        if named != "time" && !wanted.columns.contains_key(named) {
            let known: Vec<&str> = wanted.columns.keys().map(String::as_str).chain(["time"]).collect();
            return Err(Box::new(
                about(path, Code::WrongArguments, format!("this job awaits no `{named}`"))
                    .expected(known.join(", "))
                    .help("correct the name before the `=`"),
            ));
        }
    }
    // A shop says of its reader more than one job awaits.
    let choices = choices.only(|name| wanted.columns.contains_key(name));
    let raw = Raw::new(job.dir(), if is_standard(path) { "reader.csv".to_owned() } else { name(path) }.as_str());
    Ok(Live::new(columns, wanted, choices, plan.units.clone(), Some(raw)))
}

/// Headings as plugins describe the logs of this form, where they speak of the same names.
fn recognised(mut wanted: Wanted, plan: &Plan, context: &Context) -> Wanted {
    let mut quiet = Problems::new();
    let form = &plan.form.id;
    let mut known = described(&Parsed::new(plan.snapshot.files.clone(), &mut quiet), form);
    if known.columns.is_empty() {
        known = described(&context.parsed(&mut quiet), form);
    }
    for (name, column) in &mut wanted.columns {
        if let Some(described) = known.columns.get(name) {
            column.words.extend(described.words.iter().cloned());
            column.not.extend(described.not.iter().cloned());
        }
    }
    wanted
}

/// What is typed, and what the shop says of the instrument that is named: the shop of the job, else that of today.
fn choices(options: &Said, plan: &Plan, context: &Context) -> Result<Choices, Fault> {
    let mut problems = Problems::new();
    let mut shop = plan.shop.clone();
    let is_mapped = |shop: &Shop, id: &str| shop.instruments.get(id).is_some_and(|instrument| instrument.log.is_some());
    if let Some(id) = options.instrument.as_deref().filter(|id| !is_mapped(&shop, id)) {
        let (_, of_today) = context.files(None, &mut Problems::new());
        let of_today = of_today.and_then(|source| Shop::read(&source, &plan.units, &mut Problems::new()));
        shop = of_today.filter(|shop| is_mapped(shop, id)).unwrap_or(shop);
    }
    let choices = said(options, &shop, &mut problems);
    match problems.into_iter().find(Diagnostic::is_error) {
        Some(problem) => Err(Box::new(problem)),
        None => Ok(choices),
    }
}
