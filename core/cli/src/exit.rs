//! How a run ended, for whoever called it.

use std::process::ExitCode;

/// What each stands for is told by [`Exit::means`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    Well,
    NotMet,
    Usage,
    NotFinished,
    Defect,
    Interrupted,
}

impl Exit {
    pub const ALL: [Exit; 6] =
        [Exit::Well, Exit::NotMet, Exit::Usage, Exit::NotFinished, Exit::Defect, Exit::Interrupted];

    pub fn number(self) -> u8 {
        match self {
            Exit::Well => 0,
            Exit::NotMet => 1,
            Exit::Usage => 2,
            Exit::NotFinished => 3,
            Exit::Defect => 70,
            Exit::Interrupted => 130,
        }
    }

    pub fn means(self) -> &'static str {
        match self {
            Exit::Well => "All is well.",
            Exit::NotMet => "It ran, and something is not met.",
            Exit::Usage => "Wrong usage, or a file that is needed and can't be used.",
            Exit::NotFinished => "Not finished: an answer is missing, a value is unknown, the job was paused.",
            Exit::Defect => "A defect of this program.",
            Exit::Interrupted => "Interrupted, the job saved.",
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit.number())
    }
}
