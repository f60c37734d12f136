//! What an audit found: a line for each journal, and more only of what does not hold or is not shown.

mod csv;
mod junit;

pub use csv::table;
pub use junit::report;

use super::shown::{count, minute, painted, words};
use standpipe_audit::{At, Audited, Missed, Point, Verdict};
use standpipe_diagnostic::columns::{clean, fit, hang, pad, spread, wrap};

/// `does not hold` and two spaces.
const VERDICT: usize = 15;
const JOB: usize = 13;
const STATE: usize = 14;
const DATE: usize = 12;
const EVENTS: usize = 6;
/// Further ones are in the JSON.
const MOST_LINES: usize = 5;

pub fn text(audited: &[Audited], width: usize, colour: bool) -> String {
    let mut text = String::new();
    wrap(&heading(audited), width).iter().for_each(|line| push(&mut text, line));
    text.push('\n');
    push(&mut text, &columns(["", "JOB", "WORK ON", "STATE", "LAST ENTRY", "EVENTS"], width));
    for journal in audited {
        let mut lines = vec![row(journal, width)];
        for point in &journal.points {
            lines.extend(details(point, width));
        }
        if worst(journal) != Verdict::Holds {
            lines.push(String::new());
        }
        lines.iter().for_each(|line| push(&mut text, line));
    }
    painted(&format!("{}\n", text.trim_end()), colour)
}

fn push(text: &mut String, line: &str) {
    text.push_str(line.trim_end());
    text.push('\n');
}

fn heading(audited: &[Audited]) -> String {
    let number = |verdict| audited.iter().filter(|journal| worst(journal) == verdict).count();
    let mut parts = vec![format!("{} audited", count(audited.len(), "journal"))];
    for (verdict, one, more) in [
        (Verdict::Holds, "holds", "hold"),
        (Verdict::DoesNotHold, "does not hold", "do not hold"),
        (Verdict::NotShown, "is not fully shown", "are not fully shown"),
    ] {
        match number(verdict) {
            0 => {}
            1 => parts.push(format!("1 {one}")),
            all => parts.push(format!("{all} {more}")),
        }
    }
    let invented = match audited.iter().filter(|journal| journal.invented).count() {
        0 => String::new(),
        all if all == audited.len() => ". Invented data".to_owned(),
        some => format!(". Invented data in {some}"),
    };
    let simulated = match audited.iter().filter(|journal| journal.simulated).count() {
        0 => String::new(),
        all if all == audited.len() => ". SIMULATED".to_owned(),
        some => format!(". SIMULATED: {some}"),
    };
    format!("{}{simulated}{invented}", parts.join(", "))
}

/// Of the record as such: newer data say nothing against it.
fn worst(journal: &Audited) -> Verdict {
    journal.points.iter().map(|point| point.verdict).max().unwrap_or(Verdict::Holds)
}

fn row(journal: &Audited, width: usize) -> String {
    let name = if journal.subject.is_empty() { &journal.folder } else { &journal.subject };
    let at = journal.at.map(|at| at.date().to_string()).unwrap_or_default();
    columns([worst(journal).words(), &journal.job, name, journal.state, &at, &journal.events.to_string()], width)
}

/// The subject takes what the others leave.
fn columns([verdict, job, subject, state, at, events]: [&str; 6], width: usize) -> String {
    let left = width.saturating_sub(VERDICT + JOB + STATE + DATE + EVENTS).max(8);
    let column = |text: &str, limit: usize| pad(&fit(text, limit - 2), limit);
    format!(
        "{}{}{}{}{}{events:>EVENTS$}",
        column(verdict, VERDICT),
        column(job, JOB),
        column(subject, left),
        column(state, STATE),
        column(at, DATE),
    )
}

fn details(point: &Point, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let told = point.findings.len().min(MOST_LINES);
    for finding in &point.findings[..told] {
        let label = format!("  {}", pad(finding.verdict.words(), VERDICT));
        lines.extend(hang(&label, &format!("{}: {}", point.point, finding.message), width));
        lines.extend(indented(&place(&finding.place), width));
    }
    let more = (point.findings.len() - told) as u64 + point.more;
    if more > 0 {
        lines.extend(indented(&format!("and {more} more of this"), width));
    }
    lines
}

fn indented(text: &str, width: usize) -> Vec<String> {
    let indent = " ".repeat(VERDICT + 2);
    wrap(text, width.saturating_sub(indent.len())).into_iter().map(|line| format!("{indent}{line}")).collect()
}

fn place(place: &At) -> String {
    match place.line {
        Some(line) => format!("{}:{line}", place.file),
        None => place.file.clone(),
    }
}

/// Of each book with stamps, until when they vouch for it.
pub fn anchors(audited: &[Audited], width: usize) -> String {
    let mut text = String::new();
    for (book, anchored) in audited.iter().filter_map(|book| Some((book, book.anchored.as_ref()?))) {
        let at = anchored.at.replace('T', " ").replace('Z', " UTC");
        let checked = if anchored.checked { "" } else { ", UNCHECKED" };
        let line = format!(
            "The book in {} is anchored up to line {} of {}, by a stamp of {at}{checked}.",
            clean(&book.folder),
            anchored.line,
            anchored.of
        );
        text.push('\n');
        wrap(&line, width).iter().for_each(|line| push(&mut text, line));
    }
    text
}

/// Of each journal the acts that can be signed by key, and what is shown of who did them.
pub fn acts(audited: &[Audited], width: usize) -> String {
    let mut text = String::new();
    for journal in audited.iter().filter(|journal| !journal.signed.is_empty()) {
        text.push('\n');
        push(&mut text, &spread(&format!("{}  {}", clean(&journal.job), clean(&journal.subject)), "BY KEY", width));
        for act in &journal.signed {
            let label = format!("  {:>5}  {}", act.line, pad(act.act.word(), 9));
            let mut told = format!("{}: {}", clean(&act.by), act.standing.words());
            if let (Some(key), Some(at)) = (&act.key, act.signed_at) {
                told.push_str(&format!(", {}, by {key}", minute(at)));
            }
            hang(&label, &told, width).iter().for_each(|line| push(&mut text, line));
        }
    }
    text
}

/// Why entries were judged again.
pub enum Question {
    /// Under the data in this folder.
    Data(String),
    /// The same of so many jobs of an archive, which gives those alone that something is to be said of.
    Archive(String, usize),
    /// If this instrument were off: `\`wrench\` were 8 % off`.
    Instrument(String),
}

/// Which finished jobs would no longer meet what.
pub fn rechecks(audited: &[Audited], question: &Question, width: usize) -> String {
    let judged: Vec<_> = audited.iter().filter_map(|it| Some((it, it.recheck.as_ref()?))).collect();
    let missed = judged.iter().filter(|(_, recheck)| !recheck.missed.is_empty()).count();
    let jobs = count(judged.len(), "finished job");
    let (under, jobs) = match question {
        Question::Data(folder) => (format!("Under the data in {}", clean(folder)), jobs),
        Question::Archive(folder, all) => {
            (format!("Under the data in {}", clean(folder)), format!("{} in the archive", count(*all, "finished job")))
        }
        Question::Instrument(off) => (format!("If {}", clean(off)), format!("{jobs} that used it")),
    };
    let heading = match missed {
        0 => format!("{under}, no gate of {jobs} turns out otherwise"),
        some => format!("{under}, {some} of {jobs} would no longer meet every gate"),
    };
    let mut text = String::new();
    wrap(&heading, width).iter().for_each(|line| push(&mut text, line));
    for (journal, recheck) in judged {
        if recheck.missed.is_empty() && recheck.not_judged.is_empty() {
            continue;
        }
        let date = journal.at.map(|at| at.date().to_string()).unwrap_or_default();
        let job = pad(&fit(&journal.job, JOB - 2), JOB);
        text.push('\n');
        // What it was done on has no name in an archive; the shop knows it by the job.
        let whose = if matches!(question, Question::Archive(..)) { &journal.folder } else { &journal.subject };
        push(&mut text, &spread(&format!("{job}{}", clean(whose)), &date, width));
        for missed in &recheck.missed {
            let label = format!("  {}", pad(missed.verdict.words(), VERDICT - 2));
            let assumed = missed.assumed.as_ref().map_or_else(String::new, |assumed| format!("{assumed}: "));
            hang(&label, &format!("{assumed}{}", told(missed)), width).iter().for_each(|line| push(&mut text, line));
            let source = format!("`{}`, {}; met in line {}", one_line(&missed.must), place(&missed.place), missed.line);
            hang(&" ".repeat(VERDICT), &source, width).iter().for_each(|line| push(&mut text, line));
        }
        for reason in &recheck.not_judged {
            let label = format!("  {}", pad("not judged", VERDICT - 2));
            hang(&label, reason, width).iter().for_each(|line| push(&mut text, line));
        }
    }
    text
}

fn told(missed: &Missed) -> String {
    let address = &missed.address;
    match &missed.margin {
        Some(margin) => {
            format!("{address}: {} {}, needed {}: {} off", words(&margin.name), margin.found, margin.needed, margin.off)
        }
        None if !missed.missing.is_empty() => format!("{address}: {} not known", missed.missing.join(", ")),
        None => {
            let found = missed.found.iter().map(|(name, shown)| format!("{} {shown}", words(name)));
            format!("{address}: {}", found.collect::<Vec<_>>().join(", "))
        }
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
