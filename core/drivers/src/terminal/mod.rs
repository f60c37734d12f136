//! Asking a person at a terminal: one step at a time, one key an answer.
//!
//! What is laid out and what a key means is pure ([`page`], [`screen`], [`question`], [`draft`]); only [`console`] touches
//! the terminal. What follows from an answer is written by the caller before it counts.

mod ahead;
mod aside;
mod console;
mod draft;
mod ear;
mod from_log;
mod held;
mod key;
mod line;
mod page;
mod paint;
mod question;
mod screen;
mod session;
mod setting;
mod step;
#[cfg(test)]
mod tests;
mod waiting;

use std::path::{Path, PathBuf};

use jiff::civil::DateTime;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::{EvidenceRef, Machine, Record, Refusal, State};

pub use console::give_back;
pub use ear::Ear;
pub use page::Header;
pub use screen::screen;

/// Writes records to the journal; they count only when it says that they are safe.
pub type Append<'a> = dyn FnMut(&[Record]) -> Result<(), Box<Diagnostic>> + 'a;
/// Keeps a file as evidence.
pub type Keep<'a> = dyn FnMut(&Path) -> Result<EvidenceRef, Box<Diagnostic>> + 'a;

/// How a sitting at the terminal ended.
#[derive(Debug)]
pub enum Outcome {
    Finished,
    Abandoned,
    /// Paused; the tag is to be printed and hung on the work.
    Paused {
        tag: Vec<String>,
    },
    /// Left without a pause.
    Left,
    /// Ctrl-C. All that was entered is saved.
    Interrupted,
    /// The job could not be opened or gone on with at all.
    Refused(Refusal),
    /// The machine asks nothing and does nothing: a defect of ours.
    Stuck,
}

#[derive(Debug)]
pub struct Ended {
    pub outcome: Outcome,
    pub state: State,
    /// Who worked; asked for where it was not given.
    pub who: String,
}

/// Who sits at the terminal, and what is beside it.
pub struct Seat {
    /// Empty where nobody said who works.
    pub who: String,
    pub colour: bool,
    /// A reader that is followed.
    pub ear: Option<Ear>,
    /// The folder of the job, where evidence lies.
    pub dir: PathBuf,
}

/// Asks until the job ends or somebody leaves it.
///
/// Errors: there is nobody to ask, the terminal is gone, or the journal can't be written.
pub fn run_terminal(
    machine: &Machine,
    state: State,
    append: &mut Append<'_>,
    keep: &mut Keep<'_>,
    clock: &dyn Fn() -> DateTime,
    seat: Seat,
) -> Result<Ended, Box<Diagnostic>> {
    let Seat { who, colour, ear, dir } = seat;
    let mut console = console::Terminal::open(colour).ok_or_else(nobody_there)?;
    session::Session {
        machine,
        setting: setting::Setting { machine },
        state,
        append,
        keep,
        clock,
        who,
        console: &mut console,
        refusal: Vec::new(),
        draft: draft::Draft::default(),
        last_key: std::time::Duration::ZERO,
        ear,
        asking: None,
        dir,
        logs: Default::default(),
    }
    .run()
}

fn nobody_there() -> Box<Diagnostic> {
    let place = Place::whole(&Source::new("<terminal>", ""));
    Box::new(
        Diagnostic::error(Code::WrongArguments, &place, "there is no terminal to ask at")
            .expected("keys and messages connected to a terminal")
            .help("give the answers as a file: `--answers FILE`"),
    )
}
