//! `book`: the book of a folder of jobs; begun, told what it lacks, or shown.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;
use serde_json::{Value as Json, json};

use super::Exit;
use super::context::Context;
use super::job_folder::about;
use standpipe_audit::due;
use standpipe_book::{Book, Entry, Line, What, stamp};
use standpipe_diagnostic::columns::clean;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::Moment;
use standpipe_job::journal::{self, Journal};
use standpipe_report::count;

const SCHEMA: &str = "standpipe.book/1";

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The folder that holds the jobs' folders
    #[arg(value_name = "JOBS", default_value = ".")]
    pub jobs: PathBuf,
    /// Begin a book there: from then on every job beside it is entered when it is opened, paused and closed
    #[arg(long)]
    pub begin: bool,
    /// Enter what the journals have and the book lacks, marked as late
    #[arg(long)]
    pub enter: bool,
    /// Write a request for a time stamp of the last line, by RFC 3161; any way to an authority will do
    #[arg(long, value_name = "FILE.tsq", conflicts_with_all = ["begin", "enter", "stamp"])]
    pub request: Option<PathBuf>,
    /// Keep the answer of the authority beside the book
    #[arg(long, value_name = "FILE.tsr", conflicts_with_all = ["begin", "enter"])]
    pub stamp: Option<PathBuf>,
}

pub fn run(args: &Args, context: &Context) -> Exit {
    let mut problems = Problems::new();
    if args.request.is_some() || args.stamp.is_some() {
        return stamps(args, context);
    }
    let lines = lines(args, &mut problems);
    match lines {
        Ok((lines, entered)) => {
            context.report(&problems);
            if context.json() {
                let all: Vec<Json> = lines.iter().map(told).collect();
                context.out_json(&json!({
                    "schema": SCHEMA, "ok": true, "lines": all, "entered": entered, "problems": problems_json(&problems),
                }));
            } else {
                context.out(&text(&lines, entered));
            }
            Exit::Well
        }
        Err(problem) => {
            let broken = problem.code == Code::BrokenBook;
            problems.push(*problem);
            context.failed(SCHEMA, &problems);
            if broken { Exit::NotMet } else { Exit::Usage }
        }
    }
}

/// `--request` and `--stamp`.
fn stamps(args: &Args, context: &Context) -> Exit {
    match there(&args.jobs).and_then(|book| if args.stamp.is_some() { keep(args, &book) } else { ask(args, &book) }) {
        Ok((line, at, text)) => {
            if context.json() {
                context.out_json(&json!({
                    "schema": SCHEMA, "ok": true, "line": line.seq, "hash": line.hash, "stamped_at": at, "problems": [],
                }));
            } else {
                context.out(&text);
            }
            Exit::Well
        }
        Err(problem) => {
            let exit = if problem.code == Code::BrokenBook { Exit::NotMet } else { Exit::Usage };
            context.failed(SCHEMA, &[*problem]);
            exit
        }
    }
}

type Stamped = (Line, Option<String>, String);

fn ask(args: &Args, book: &Book) -> Result<Stamped, Box<Diagnostic>> {
    let to = args.request.as_deref().unwrap_or(Path::new(""));
    let line = book.read()?.pop();
    let asked = line.and_then(|line| Some((stamp::request(&line.hash)?, line)));
    let Some((bytes, line)) = asked else {
        return Err(Box::new(about(&book.path(), Code::BrokenBook, "the book has no line")));
    };
    standpipe_disk::fresh(to, |file| std::io::Write::write_all(file, &bytes)).map_err(|fault| {
        let message = match fault.kind() {
            std::io::ErrorKind::AlreadyExists => format!("there is a `{}` already", to.display()),
            _ => format!("`{}` can't be written: {fault}", to.display()),
        };
        Box::new(about(to, Code::Unwritable, message).help("name another file: nothing is written over"))
    })?;
    let text = format!(
        "{}: asks for a stamp of line {}, {}\nSend it to an authority as application/timestamp-query, and keep what comes back by \
         `standpipe book JOBS --stamp FILE.tsr`\n",
        to.display(),
        line.seq,
        line.hash
    );
    Ok((line, None, text))
}

fn keep(args: &Args, book: &Book) -> Result<Stamped, Box<Diagnostic>> {
    let answer = args.stamp.as_deref().unwrap_or(Path::new(""));
    let found = stamp::read(answer).map_err(|why| {
        let problem = about(answer, Code::WrongArguments, format!("`{}` is not a stamp: {why}", answer.display()));
        Box::new(problem.expected("the answer of an authority to a request, by RFC 3161"))
    })?;
    let Some(line) = book.read()?.into_iter().find(|line| line.hash == found.hash) else {
        let message = format!("`{}` is a stamp of something else: no line of the book has its hash", answer.display());
        return Err(Box::new(
            about(answer, Code::WrongArguments, message).help("name the answer to the request for this book"),
        ));
    };
    let kept = book.keep_stamp(&found, answer).map_err(|fault| {
        let message = match fault.kind() {
            std::io::ErrorKind::AlreadyExists => format!("line {} has a stamp already", line.seq),
            _ => format!("the stamp can't be kept: {fault}"),
        };
        Box::new(about(&book.path(), Code::Unwritable, message))
    })?;
    let text = format!(
        "{}: line {} was there at {}, if an authority that you trust signed it: `standpipe audit JOBS --authority FILE.pem`\n",
        kept.display(),
        line.seq,
        found.at
    );
    Ok((line, Some(found.at), text))
}

fn there(jobs: &Path) -> Result<Book, Box<Diagnostic>> {
    Book::of(jobs).ok_or_else(|| {
        let problem = about(jobs, Code::UnreadableFile, format!("there is no book in {}", jobs.display()));
        Box::new(problem.help("begin one: `standpipe book JOBS --begin`"))
    })
}

/// All lines, and how many of them were entered now.
fn lines(args: &Args, problems: &mut Problems) -> Result<(Vec<Line>, usize), Box<Diagnostic>> {
    let book = match args.begin {
        true => Book::begin(&args.jobs, &Moment::now().to_string())?,
        false => there(&args.jobs)?,
    };
    let mut entered = 0;
    if args.enter || args.begin {
        for entry in lacking(&book.read()?, &args.jobs, problems) {
            book.hold()?.enter(&entry)?;
            entered += 1;
        }
    }
    Ok((book.read()?, entered))
}

/// What journals beside the book have that it does not say, in the order in which it happened. One that can't be read or does not
/// hold is said to be so and entered not at all.
fn lacking(lines: &[Line], jobs: &Path, problems: &mut Problems) -> Vec<Entry> {
    let mut all = Vec::new();
    for folder in journal::below(jobs).into_iter().filter(|folder| folder.parent() == Some(jobs)) {
        let contents = match Journal::read(&folder) {
            Ok(contents) => contents,
            Err(problem) => {
                problems.push(*problem);
                continue;
            }
        };
        if contents.problems.iter().any(Diagnostic::is_error) {
            problems.extend(contents.problems);
            continue;
        }
        match due(&folder, &contents, Moment::now()) {
            Ok(due) => {
                let has = |entry: &Entry| {
                    let same = |line: &Line| {
                        let known = &line.entry;
                        let act = |entry: &Entry| entry.signature.as_ref().map(|it| it.act.clone());
                        (known.what, known.of, &known.folder) == (entry.what, entry.of, &entry.folder)
                            && act(known) == act(entry)
                    };
                    lines.iter().any(same)
                };
                all.extend(due.into_iter().filter(|entry| !has(entry)).map(|entry| Entry { late: true, ..entry }));
            }
            Err(fault) => problems.push(about(&folder, Code::UnreadableFile, fault.to_string())),
        }
    }
    all.sort_by(|one, other| one.at.cmp(&other.at));
    all
}

fn told(line: &Line) -> Json {
    let mut told = serde_json::to_value(&line.entry).unwrap_or_default();
    told["seq"] = line.seq.into();
    told["hash"] = line.hash.clone().into();
    told
}

fn text(lines: &[Line], entered: usize) -> String {
    let jobs: std::collections::BTreeSet<&str> =
        lines.iter().filter(|line| line.entry.what != What::Begun).map(|line| line.entry.folder.as_str()).collect();
    let mut text = format!("{} of {}", count(lines.len(), "line"), count(jobs.len(), "job"));
    if entered > 0 {
        text.push_str(&format!(", {entered} entered now"));
    }
    text.push_str("\n\n");
    for line in lines {
        let Entry { what, job, folder, of, at, late, signature, .. } = &line.entry;
        let when = at.get(..16).unwrap_or(at).replace('T', " ");
        let late = if *late { ", late" } else { "" };
        let act = signature.as_ref().map(|it| format!("{} ", clean(&it.act))).unwrap_or_default();
        let what = format!("{act}{}{late}", what.words());
        let of = if *of > 0 { format!("event {of} of {} ({})", clean(job), clean(folder)) } else { String::new() };
        text.push_str(format!("{:>6}  {when}  {what:<16}  {of}", line.seq).trim_end());
        text.push('\n');
    }
    if let Some(last) = lines.last() {
        text.push_str(&format!("\nHash of the last line, which proves all before it:\n{}\n", last.hash));
    }
    text
}
