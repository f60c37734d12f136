//! The running job: a state machine without input and output.
//!
//! [`Machine::decide`] turns an input into events and is the only thing that runs scripts; [`State::apply`] adds an
//! event to the state. [`Machine::pending`] says what is asked. [`OpenJob`] is machine, journal and state in one: terminal
//! and answers file give to it.

pub mod plan;

pub mod address;
mod decide;
pub mod edition;
pub mod ending;
pub mod event;
pub mod input;
pub mod journal;
pub mod judge;
pub mod names;
pub mod open;
pub mod pending;
pub mod replay;
pub mod shared;
pub mod state;
pub mod steps;
pub mod vehicle;
mod walk;

pub use address::Address;
pub use decide::{Machine, Watched};
pub use event::{Event, EvidenceRef, Origin, ReadFrom, Record, StreamPart, TakenFrom, Turn, Verdict, Witness};
pub use input::{Entry, Input, Refusal, Unfit, What};
pub use journal::Journal;
pub use open::{Asked, Given, Hold, InputId, Kept, NotKept, On, OpenJob, When};
pub use pending::{AnswerKind, Pending, Photo, Prompt, PromptField};
pub use state::{Hindrance, Phase, State};
