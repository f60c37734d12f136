//! `log`: what a log of readings shows.

mod keep;

use std::io::Read;
use std::path::Path;
use std::rc::Rc;

use serde_json::json;

use super::Exit;
use super::args::{Format, Log};
use super::context::Context;
use super::job_folder::{about, folder_of};
use super::said;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use standpipe_job::event::Verdict;
use standpipe_job::plan::typed;
use standpipe_job::{Hold, OpenJob};
use standpipe_library::Kind;
use standpipe_log::{
    Choices, Collected, Description, Ground, LogClock, LogReader, Question, Row, Trouble, Unread, around, clock,
    head_text, job_day,
};
use standpipe_report::log::{Shown, csv_heading, csv_row};
use standpipe_yaml::At;

const SCHEMA: &str = "standpipe.log/1";
/// So much of a log is read again to show a line of it.
const SHOWN: u64 = 64 * 1024;

pub fn run(args: &Log, context: &Context) -> Exit {
    let mut problems = Problems::new();
    match open(args, context, &mut problems) {
        Some(exit) => exit,
        None => {
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

/// None where the log can't be used; `problems` say why.
fn open(args: &Log, context: &Context, problems: &mut Problems) -> Option<Exit> {
    let mut ground = ground(args, context, problems)?;
    let description = description(args, &ground, problems)?;
    let choices = said::said(&args.said, &ground.shop, problems);
    let starts = match &args.starts {
        None => None,
        Some(text) => match clock(text) {
            Some(time) => Some(time),
            None => {
                problems.push(
                    Diagnostic::error(
                        Code::WrongArguments,
                        &typed("--starts", text).place,
                        format!("`{text}` is not a time of day"),
                    )
                    .help("write e.g. `--starts 08:15:00`"),
                );
                None
            }
        },
    };
    if has_errors(problems) {
        return None;
    }
    let from = opened(&args.file, problems)?;
    let log = match Collected::read(from, &description.wanted, choices.clone(), &ground.parsed.units) {
        Ok(log) => log,
        Err(fault) => {
            problems.extend(unread(&args.file, fault));
            return None;
        }
    };
    let first = log.tally.first.unwrap_or(0.0);
    let span = (first, log.tally.last.unwrap_or(first));
    let records = ground.job.as_ref().map_or(&[][..], OpenJob::records);
    let log_clock = LogClock::new(&log.understood.time, span, starts, job_day(records, span, starts));
    let around = around((args.window.as_deref(), &args.events), &description, &ground, &log_clock, problems);
    if has_errors(problems) {
        return None;
    }
    let job = ground.job.take();
    let scripts = ground.parsed.scripts();
    let checks = description.judge(&log, &around, &ground.parsed.units, &scripts);
    let mut events: Vec<(f64, String)> =
        around.events.iter().map(|(name, at)| (*at, description.events[name.as_str()].title.clone())).collect();
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    let shown = Shown {
        file: &args.file.display().to_string(),
        title: &description.title,
        invented: ground.invented,
        simulated: ground.simulated,
        log: &log,
        log_clock: &log_clock,
        window: description.window_of(&around, &scripts),
        events,
        checks: &checks,
        plot: &description.plot,
        units: &ground.parsed.units,
        style: &ground.shop.style,
    };
    let any = |verdict| checks.iter().any(|check| check.verdict == verdict);
    let exit = match (any(Verdict::NotMet), any(Verdict::NotShown)) {
        (true, _) => Exit::NotMet,
        (false, true) => Exit::NotFinished,
        (false, false) => Exit::Well,
    };
    if args.keep {
        keep::keep(args, job, &ground, &description, (&choices, &around, &checks, log_clock.zero_moment()), problems)?;
    }
    context.report(problems);
    match context.format() {
        Format::Json => context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "log": shown.json(), "problems": problems_json(problems),
        })),
        Format::Csv => write_csv(args, context, &ground, &description, choices, &log_clock, problems)?,
        _ => context.out(&shown.text(context.width())),
    }
    Some(exit)
}

fn ground(args: &Log, context: &Context, problems: &mut Problems) -> Option<Ground> {
    let (files, shop) = context.files(None, problems);
    let mut ground = Ground::of_files(files, shop, problems);
    if let Some(job) = &args.job {
        let folder = folder_of(job).map_err(|fault| problems.push(*fault)).ok()?;
        let job = OpenJob::open(&folder, Hold::Look).map_err(|found| problems.extend(found)).ok()?;
        ground.for_job(job, args.said.instrument.is_none(), problems);
    } else if let Some(family) = &args.family {
        ground.for_family(family, problems)?;
    }
    Some(ground)
}

/// Read a second time, row by row: what is kept for the checks leaves out what was held.
fn write_csv(
    args: &Log,
    context: &Context,
    ground: &Ground,
    description: &Description,
    choices: Choices,
    log_clock: &LogClock,
    problems: &mut Problems,
) -> Option<()> {
    let mut from = opened(&args.file, problems)?;
    let mut reader = LogReader::new(description.wanted.clone(), choices, ground.parsed.units.clone());
    let mut chunk = vec![0; 64 * 1024];
    let mut headed = false;
    loop {
        let count = from.read(&mut chunk).map_err(|fault| problems.push(broken(&args.file, &fault))).ok()?;
        let mut rows: Vec<(u64, f64, Vec<f64>)> = Vec::new();
        let mut each = |row: Row<'_>| rows.push((row.line, row.at, row.values.to_vec()));
        let read = if count == 0 { reader.finish(&mut each) } else { reader.push(&chunk[..count], &mut each) };
        read.map_err(|fault| problems.extend(unread(&args.file, Unread::Trouble(fault)))).ok()?;
        let mut writer = csv::Writer::from_writer(Vec::new());
        if let Some(understood) = reader.understood() {
            let heading = (!headed).then(|| csv_heading(understood));
            headed = true;
            let rows = rows.iter().map(|(line, at, values)| {
                let row = Row { line: *line, at: *at, values };
                csv_row(understood, log_clock, &row, |column, word| {
                    reader.words(column).get(word).cloned().unwrap_or_default()
                })
            });
            for record in heading.into_iter().chain(rows) {
                let _ = writer.write_record(&record);
            }
        }
        let text = writer.into_inner().unwrap_or_default();
        context.out(&String::from_utf8_lossy(&text));
        if count == 0 {
            return Some(());
        }
    }
}

fn opened(path: &Path, problems: &mut Problems) -> Option<Box<dyn Read>> {
    if path.as_os_str() == "-" {
        return Some(Box::new(std::io::stdin().lock()));
    }
    match standpipe_disk::stream(path) {
        Err(fault) if fault.kind() == std::io::ErrorKind::IsADirectory => {
            problems.push(
                about(path, Code::UnreadableFile, format!("{} is a folder", path.display())).help("name the log in it"),
            );
            None
        }
        Ok(file) => Some(Box::new(file)),
        Err(fault) => {
            problems.push(broken(path, &fault));
            None
        }
    }
}

fn broken(path: &Path, fault: &std::io::Error) -> Diagnostic {
    about(path, Code::UnreadableFile, format!("{} can't be read: {fault}", path.display()))
        .help("check the name, and that you may read it")
}

fn unread(path: &Path, fault: Unread) -> Problems {
    match fault {
        Unread::File(fault) => vec![broken(path, &fault)],
        Unread::Trouble(Trouble::Unusable { line, message, help }) => {
            vec![Diagnostic::error(Code::UnreadableLog, &line_of(path, line), message).help(help)]
        }
        Unread::Trouble(Trouble::Asked(questions)) => questions.iter().map(|question| asked(path, question)).collect(),
    }
}

fn asked(path: &Path, question: &Question) -> Diagnostic {
    let problem = Diagnostic::error(Code::UnclearLog, &line_of(path, question.line), question.message.clone())
        .help(format!("say it with `{}`", question.option));
    if question.choices.is_empty() {
        problem
    } else {
        problem.expected(format!("one of: {}", question.choices.join(", ")))
    }
}

/// A line of a log, where it stands near enough to the beginning to be shown.
fn line_of(path: &Path, line: u64) -> Place {
    let mut head = Vec::new();
    // What came by a pipe is gone, and a file that went away was reported.
    if let Ok(file) = standpipe_disk::open(path) {
        let _ = file.take(SHOWN).read_to_end(&mut head);
    }
    let source = Source::new(path.display().to_string(), head_text(&head));
    let start = source.text.split_inclusive('\n').take(line.saturating_sub(1) as usize).map(str::len).sum::<usize>();
    match source.text[start..].lines().next() {
        Some(text) if !text.is_empty() => Place::new(&source, start..start + text.len()),
        _ => Place::whole(&Source::new(format!("{}:{line}", path.display()), "")),
    }
}

/// The description that was named, or the only one for the form.
fn description(args: &Log, ground: &Ground, problems: &mut Problems) -> Option<Rc<Description>> {
    let library = &ground.parsed.library;
    let read = |id: &At<String>, problems: &mut Problems| {
        let document = library.find(Kind::Log, id, problems)?;
        let description = Description::read(&document.source, &ground.parsed.units, problems)?;
        document.check_id(&description.id, &description.place, problems);
        Some(Rc::new(description))
    };
    if let Some(id) = &args.description {
        return read(&typed("--description", id), problems);
    }
    let all: Vec<String> = library.documents(Kind::Log).map(|document| document.id.clone()).collect();
    let mut fitting: Vec<Rc<Description>> = Vec::new();
    for id in &all {
        if let Some(description) = read(&typed("--description", id), problems)
            && ground.form.as_ref().is_none_or(|form| *form == description.form.value)
        {
            fitting.push(description);
        }
    }
    if has_errors(problems) {
        return None;
    }
    if fitting.len() > 1 || fitting.is_empty() {
        let ids: Vec<&str> = fitting.iter().map(|description| description.id.as_str()).collect();
        let (message, expected) = match ids.is_empty() {
            true => ("no plugin says what to look for in such a log", all.join(", ")),
            false => ("more than one description fits this log", ids.join(", ")),
        };
        problems.push(
            Diagnostic::error(Code::WrongArguments, &typed("--description", "").place, message)
                .expected(expected)
                .help("name one with `--description ID`"),
        );
        return None;
    }
    fitting.pop()
}
