//! Asking a person at a terminal: one step at a time, one key an answer.
//!
//! What is laid out and what a key means is pure (`page`, `screen`, `question`); only `console` touches the terminal. What
//! is answered is given to the job by the loop that all drivers share.

mod aside;
mod console;
mod ear;
mod from_log;
mod held;
mod key;
mod line;
mod page;
mod paint;
mod photo;
mod question;
mod screen;
mod session;
mod step;
#[cfg(test)]
mod tests;
mod waiting;

use standpipe_job::Moment;

use crate::live_reader::LiveReader;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::{OpenJob, Refusal};

pub use crate::setting::Header;
pub use console::give_back;
pub use screen::screen;

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
    /// Who worked; asked for where it was not given.
    pub who: String,
}

/// Who sits at the terminal, and what is beside it.
pub struct Seat {
    /// Empty where nobody said who works.
    pub who: String,
    pub colour: bool,
    /// A reader that is followed.
    pub reader: Option<LiveReader>,
}

/// Asks until the job ends or somebody leaves it.
///
/// Errors: there is nobody to ask, the terminal is gone, or the journal can't be written.
pub fn run_terminal(job: &mut OpenJob, clock: &dyn Fn() -> Moment, seat: Seat) -> Result<Ended, Box<Diagnostic>> {
    let mut console = console::Terminal::open(seat.colour).ok_or_else(nobody_there)?;
    session::Session::new(job, clock, &mut console, seat.who, seat.reader).run()
}

fn nobody_there() -> Box<Diagnostic> {
    let place = Place::whole(&Source::new("<terminal>", ""));
    Box::new(
        Diagnostic::error(Code::WrongArguments, &place, "there is no terminal to ask at")
            .expected("keys and messages connected to a terminal")
            .help("give the answers as a file: `--answers FILE`"),
    )
}
