//! `book`: the book of a folder of jobs; begun, told what it lacks, or shown.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;
use serde_json::{Value as Json, json};

use super::Exit;
use super::context::Context;
use super::job_folder::about;
use standpipe_audit::due;
use standpipe_book::{Book, Entry, Line, What};
use standpipe_diagnostic::columns::clean;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::journal::{self, Journal};
use standpipe_report::count;

const SCHEMA: &str = "standpipe.book/1";

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The folder in which the jobs' folders lie
    #[arg(value_name = "JOBS", default_value = ".")]
    pub jobs: PathBuf,
    /// Begin a book there: from then on every job beside it is entered when it is opened, paused and closed
    #[arg(long)]
    pub begin: bool,
    /// Enter what the journals have and the book lacks, marked as late
    #[arg(long)]
    pub enter: bool,
}

pub fn run(args: &Args, context: &Context) -> Exit {
    let mut problems = Problems::new();
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

/// All lines, and how many of them were entered now.
fn lines(args: &Args, problems: &mut Problems) -> Result<(Vec<Line>, usize), Box<Diagnostic>> {
    let book = match (Book::of(&args.jobs), args.begin) {
        (_, true) => Book::begin(&args.jobs, &standpipe_job::Moment::now().to_string())?,
        (Some(book), false) => book,
        (None, false) => {
            let message = format!("there is no book in {}", args.jobs.display());
            let problem = about(&args.jobs, Code::UnreadableFile, message);
            return Err(Box::new(problem.help("begin one: `standpipe book JOBS --begin`")));
        }
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
        match due(&folder, &contents) {
            Ok(due) => {
                let has = |entry: &Entry| {
                    let same = |line: &Line| {
                        let known = &line.entry;
                        (known.what, known.of, &known.folder) == (entry.what, entry.of, &entry.folder)
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
        let Entry { what, job, folder, of, at, late, .. } = &line.entry;
        let when = at.get(..16).unwrap_or(at).replace('T', " ");
        let late = if *late { ", late" } else { "" };
        let what = format!("{}{late}", what.words());
        let of = if *of > 0 { format!("event {of} of {} ({})", clean(job), clean(folder)) } else { String::new() };
        text.push_str(format!("{:>6}  {when}  {what:<16}  {of}", line.seq).trim_end());
        text.push('\n');
    }
    if let Some(last) = lines.last() {
        text.push_str(&format!("\nHash of the last line, which proves all before it:\n{}\n", last.hash));
    }
    text
}
