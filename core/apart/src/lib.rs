#![doc = include_str!("../README.md")]

mod opening;
mod sealer;
#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test says by failing what was wrong")]
mod tests;
mod token;
mod values;
mod written;

use serde::{Deserialize, Serialize};

pub use opening::Opening;
pub use sealer::Sealer;
pub use token::{in_bytes, is_in};
pub use values::{Fault, Line, Values};
pub use written::{is_same_form, sealed};

/// What the file is called, in the folder of a job.
pub const FILE: &str = "apart.jsonl";
/// Notes of years have a few MiB.
pub const LARGEST: u64 = 64 << 20;

/// What may be left out together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// What a job was taken in with, and what was made of it: whose it is, what they say.
    Intake,
    /// What the shop's file says of its people, and in comments.
    Shop,
    /// Notes, reasons and texts of the work, names of files.
    Said,
}

impl Class {
    /// As the file has it.
    pub fn word(self) -> &'static str {
        match self {
            Class::Intake => "intake",
            Class::Shop => "shop",
            Class::Said => "said",
        }
    }
}
