//! What people do in a job that they can put a key to.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Act {
    /// Signing the work, as a step asks for it.
    Sign,
    /// Witnessing as second person.
    Witness,
    /// Accepting what turned out otherwise.
    Accept,
    /// Deciding that a job goes on by corrected data.
    Amend,
    /// Calling a procedure for trouble.
    Call,
    /// The entry that ended the job.
    Close,
}

impl Act {
    pub const ALL: [Act; 6] = [Act::Sign, Act::Witness, Act::Accept, Act::Amend, Act::Call, Act::Close];

    /// As files have it.
    pub fn word(self) -> &'static str {
        match self {
            Act::Sign => "sign",
            Act::Witness => "witness",
            Act::Accept => "accept",
            Act::Amend => "amend",
            Act::Call => "call",
            Act::Close => "close",
        }
    }

    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|act| act.word() == word)
    }
}
