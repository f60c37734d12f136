//! `run --reader`: what is followed, and how its columns are told.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::args::Run;
use super::context::Context;
use super::job_folder::about;
use crate::ask::feed::Feed;
use crate::diagnostic::{Code, Diagnostic, Problems};
use crate::job::Machine;
use crate::library::Kind;
use crate::live::{Following, Live, Raw, Source, columns, follow, wanted};
use crate::log::{Choices, DecimalSign, Description, Wanted};

type Fault = Box<Diagnostic>;

/// Standard input can't be a reader while it is the keyboard.
pub fn refuse(args: &Run) -> Result<(), Fault> {
    match &args.reader {
        Some(path) if is_standard(path) && args.answers.is_none() => Err(Box::new(
            about(path, Code::A001, "standard input can't be a reader and the keyboard at once")
                .expected("a file that grows, or answers from a file beside it")
                .help("let the reader write to a file and name that: `--reader FILE`; or add `--answers FILE`"),
        )),
        _ => Ok(()),
    }
}

fn is_standard(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn name(path: &Path) -> String {
    if is_standard(path) {
        return "standard input".to_owned();
    }
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

/// A reader beside answers: read to the time of each.
pub fn beside_answers(args: &Run, machine: &Machine, folder: &Path, context: &Context) -> Result<Option<Feed>, Fault> {
    let Some(path) = &args.reader else { return Ok(None) };
    let input: Box<dyn Read> = if is_standard(path) {
        Box::new(std::io::stdin())
    } else {
        Box::new(File::open(path).map_err(|fault| unread(path, &fault))?)
    };
    Ok(Some(Feed::new(live(args, path, machine, folder, context)?, &name(path), input)))
}

/// A reader at a terminal: followed as it grows.
pub fn at_terminal(
    args: &Run,
    machine: &Machine,
    folder: &Path,
    context: &Context,
) -> Result<Option<(Following, Live, String)>, Fault> {
    let Some(path) = &args.reader else { return Ok(None) };
    let live = live(args, path, machine, folder, context)?;
    let following = follow(&Source::File(path.clone())).map_err(|fault| unread(path, &fault))?;
    Ok(Some((following, live, name(path))))
}

fn unread(path: &Path, fault: &std::io::Error) -> Fault {
    Box::new(
        about(path, Code::F001, format!("the reader's file can't be read: {fault}"))
            .expected("a file that the reader writes to")
            .help("start the reader first, or check the path"),
    )
}

fn live(args: &Run, path: &Path, machine: &Machine, folder: &Path, context: &Context) -> Result<Live, Fault> {
    let columns = columns(&machine.plan);
    if columns.is_empty() {
        return Err(Box::new(
            about(path, Code::A001, "no step of this job awaits a reading, so there is nothing to follow")
                .expected("a procedure with an `await` step")
                .help("leave `--reader` out"),
        ));
    }
    let choices = choices(args, path)?;
    let wanted = recognised(wanted(&columns), machine, context);
    for named in choices.columns.keys().chain(choices.units.keys()) {
        if named != "time" && !wanted.columns.contains_key(named) {
            let known: Vec<&str> = wanted.columns.keys().map(String::as_str).chain(["time"]).collect();
            return Err(Box::new(
                about(path, Code::A001, format!("this job awaits no `{named}`"))
                    .expected(known.join(", "))
                    .help("correct the name before the `=`"),
            ));
        }
    }
    let raw = Raw::new(folder, if is_standard(path) { "reader.csv".to_owned() } else { name(path) }.as_str());
    Ok(Live::new(columns, wanted, choices, machine.plan.units.clone(), Some(raw)))
}

/// Headings as plugins describe the logs of this form, where they speak of the same names. What is wrong with a description
/// is for `check` to say.
fn recognised(mut wanted: Wanted, machine: &Machine, context: &Context) -> Wanted {
    let mut problems = Problems::new();
    let parsed = context.parsed(&mut problems);
    for document in parsed.library.documents(Kind::Log) {
        let Some(description) = Description::read(&document.source, &parsed.units, &mut problems) else { continue };
        if description.form.value != machine.plan.form.id {
            continue;
        }
        for (name, column) in &mut wanted.columns {
            if let Some(described) = description.wanted.columns.get(name) {
                column.words.extend(described.words.iter().cloned());
                column.not.extend(described.not.iter().cloned());
            }
        }
    }
    wanted
}

fn choices(args: &Run, path: &Path) -> Result<Choices, Fault> {
    let mut choices = Choices::default();
    for (given, into, what) in
        [(&args.column, &mut choices.columns, "column"), (&args.unit, &mut choices.units, "unit")]
    {
        for text in given {
            let Some((name, value)) = text.split_once('=') else {
                return Err(Box::new(
                    about(path, Code::A001, format!("`--{what} {text}` has no `=`"))
                        .expected(format!("--{what} name={what}"))
                        .help("write the name of the value, an equals sign, and what it is in the log"),
                ));
            };
            into.insert(name.trim().to_owned(), value.trim().to_owned());
        }
    }
    choices.decimal = match args.decimal.as_deref() {
        None => None,
        Some("point") => Some(DecimalSign::Point),
        Some("comma") => Some(DecimalSign::Comma),
        Some(other) => {
            return Err(Box::new(
                about(path, Code::A001, format!("`{other}` is no decimal sign"))
                    .expected("point or comma")
                    .help("write `--decimal point` or `--decimal comma`"),
            ));
        }
    };
    Ok(choices)
}
