#![doc = include_str!("../README.md")]

pub mod plan;

pub mod address;
mod decide;
pub mod ending;
pub mod event;
pub mod input;
pub mod journal;
pub mod judge;
pub mod names;
pub mod pending;
pub mod replay;
pub mod shared;
pub mod state;
pub mod steps;
mod subject;
mod walk;

pub use address::Address;
pub use decide::{Machine, Watched};
pub use event::{Event, EvidenceRef, Origin, ReadFrom, Record, StreamPart, TakenFrom, Turn, Verdict, Witness};
pub use input::{Entry, Input, Refusal, What};
pub use journal::Journal;
pub use pending::{Pending, Prompt, PromptField};
pub use state::{Hindrance, Phase, State};
