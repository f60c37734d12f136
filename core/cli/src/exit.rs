//! How a run ended, for whoever called it.

use std::process::ExitCode;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// All is well.
    Well,
    /// It ran, and something is not met.
    NotMet,
    /// Wrong usage, or a file that is needed and can't be used.
    Usage,
    /// Not finished: an answer is missing, a value is unknown, the job was paused.
    NotFinished,
    /// A defect of this program.
    Defect,
    /// Interrupted, the job saved.
    Interrupted,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(match exit {
            Exit::Well => 0,
            Exit::NotMet => 1,
            Exit::Usage => 2,
            Exit::NotFinished => 3,
            Exit::Defect => 70,
            Exit::Interrupted => 130,
        })
    }
}
