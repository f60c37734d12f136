//! Which version wrote a job, and what of it this one may speak about.
//!
//! Four numbers say it: the formats of journal and plan, the edition of the language that procedures, forms and the like
//! are written in, and the edition of what scripts mean (units, functions, rounding). A number that is higher than ours
//! is of a newer version: such a job is neither judged nor gone on with. A journal is of one format from its first line
//! to its last, so under a number that is known everything in it has to be known too.

use std::path::Path;

use serde::Deserialize;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};

/// Format of the lines of a journal. From 2 on texts of people are kept apart, and a token stands for each.
pub const JOURNAL: u32 = 2;
/// Format of `plan.json`; likewise.
pub const PLAN: u32 = 2;
/// The first of both whose texts are kept apart.
const APART: u32 = 2;
/// Edition of the keys, and what they mean, of the texts that a plan keeps. One that is renamed makes a new edition.
pub const LANGUAGE: u32 = 1;
/// Edition of what scripts and expressions mean. A result that comes out otherwise makes a new edition.
pub const SCRIPTS: u32 = 1;
/// Every version of the program there has been, with the interpreter that it runs; what they compute is the same. A version
/// that is left behind moves down, with its own numbers.
const RELEASED: &[(&str, &str)] = &[(env!("CARGO_PKG_VERSION"), standpipe_script::VERSION)];

const JOURNAL_SCHEMA: &str = "standpipe.journal/";
const PLAN_SCHEMA: &str = "standpipe.plan/";

/// Of a journal that follows a plan: both came with the same versions, and a journal is of one format to its last line.
pub fn journal_schema(plan: &str) -> String {
    format!("{JOURNAL_SCHEMA}{}", number(plan, PLAN_SCHEMA))
}

pub fn plan_schema() -> String {
    format!("{PLAN_SCHEMA}{PLAN}")
}

pub(crate) fn is_plan(schema: &str) -> bool {
    (1..=PLAN).any(|number| schema == format!("{PLAN_SCHEMA}{number}"))
}

/// What a plan says its format is, whatever else is in it.
pub(crate) fn schema_of(plan: &str) -> Option<String> {
    serde_json::from_str::<Head>(plan).ok().map(|head| head.schema)
}

/// Whether texts of people are kept apart, in a job with a plan of this format.
pub(crate) fn keeps_apart(plan: &str) -> bool {
    number(plan, PLAN_SCHEMA) >= APART
}

/// Does this interpreter compute as the one at hand?
fn is_known_interpreter(version: &str) -> bool {
    RELEASED.iter().any(|(_, interpreter)| *interpreter == version)
}

/// Which program worked out what is recorded.
#[derive(Clone, Debug, PartialEq)]
pub enum Computed {
    /// One that computes as this one does.
    Alike,
    /// A newer one with an interpreter that is not known here: what it computes can't be told.
    ByNewer,
    /// None that there has been: why.
    ByNone(String),
}

/// What `tool` and `interpreter`, as a job names them, say of who computed it. Versions up to this one are all known: of them
/// another interpreter is a contradiction, and no excuse for what does not follow.
pub fn computed_by(tool: &str, interpreter: &str) -> Computed {
    if let Some((_, runs)) = RELEASED.iter().find(|(version, _)| *version == tool) {
        return match *runs == interpreter {
            true => Computed::Alike,
            false => Computed::ByNone(format!("version {tool} of the program runs `{runs}`, not `{interpreter}`")),
        };
    }
    match (numbers(tool), numbers(env!("CARGO_PKG_VERSION"))) {
        (Some(it), Some(this)) if it > this && is_known_interpreter(interpreter) => Computed::Alike,
        (Some(it), Some(this)) if it > this => Computed::ByNewer,
        _ => Computed::ByNone(format!("there has been no version `{tool}` of the program")),
    }
}

/// `0.1.0`
fn numbers(version: &str) -> Option<[u32; 3]> {
    let numbers: Vec<u32> = version.split('.').map(|number| number.parse().ok()).collect::<Option<_>>()?;
    numbers.try_into().ok()
}

/// What a first line or a plan says of itself, whatever else is in it.
#[derive(Deserialize)]
struct Head {
    schema: String,
    #[serde(default)]
    language: u32,
    #[serde(default)]
    scripts: u32,
}

/// Is this plan of a newer version? A text that can't be read at all is not told to be newer.
pub fn refuse_newer_plan(text: &str, path: &Path) -> Result<(), Box<Diagnostic>> {
    let Ok(head) = serde_json::from_str::<Head>(text) else { return Ok(()) };
    let format = number(&head.schema, PLAN_SCHEMA);
    let newer = [
        ("the format of its plan", format, PLAN),
        ("the language of its plan", head.language, LANGUAGE),
        ("what its scripts mean", head.scripts, SCRIPTS),
    ];
    refuse(&newer, path)
}

/// The same of the first line of a journal.
pub fn refuse_newer_journal(first: &[u8], path: &Path) -> Result<(), Box<Diagnostic>> {
    let Ok(head) = serde_json::from_slice::<Head>(first) else { return Ok(()) };
    refuse(&[("the format of its journal", number(&head.schema, JOURNAL_SCHEMA), JOURNAL)], path)
}

/// Could a job that was begun with this interpreter be shown to the end, if it goes on here?
pub fn refuse_other_interpreter(version: &str, path: &Path) -> Result<(), Box<Diagnostic>> {
    if is_known_interpreter(version) {
        return Ok(());
    }
    let message = format!("the job was begun with `{version}`: what is computed here could be something else");
    let place = Place::whole(&Source::new(path.display().to_string(), ""));
    let problem = Diagnostic::error(Code::NewerVersion, &place, message)
        .expected(RELEASED.iter().map(|(_, runs)| *runs).collect::<Vec<_>>().join(", "));
    Err(Box::new(problem.help("go on with the version of the program that began it; nothing was changed")))
}

/// 0 where it is none.
fn number(schema: &str, name: &str) -> u32 {
    schema.strip_prefix(name).and_then(|number| number.parse().ok()).unwrap_or(0)
}

fn refuse(numbers: &[(&str, u32, u32)], path: &Path) -> Result<(), Box<Diagnostic>> {
    let Some((what, found, known)) = numbers.iter().find(|(_, found, known)| found > known) else { return Ok(()) };
    let message = format!("not shown: the job was written by a newer version, {what} has the number {found}");
    let place = Place::whole(&Source::new(path.display().to_string(), ""));
    let problem = Diagnostic::error(Code::NewerVersion, &place, message).expected(format!("at most {known}"));
    Err(Box::new(problem.help("use that version of the program, or a newer one; nothing was changed")))
}

#[cfg(test)]
mod tests;
