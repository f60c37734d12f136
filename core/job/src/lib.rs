#![doc = include_str!("../README.md")]

pub mod plan;

pub mod address;
mod decide;
pub mod edition;
pub mod ending;
pub mod event;
mod front;
pub mod input;
pub mod journal;
pub mod judge;
mod limits;
pub mod moment;
pub mod names;
pub mod open;
pub mod pending;
mod quick;
pub mod replay;
pub mod said;
pub mod shared;
pub mod state;
pub mod steps;
mod subject;
mod turned;
mod walk;

pub use address::Address;
pub use decide::{Machine, Watched};
pub use event::{Event, EvidenceRef, Origin, ReadFrom, Record, StreamPart, StreamStatus, TakenFrom, Verdict, Witness};
pub use input::{Entry, Input, Refusal, Unfit, What};
pub use journal::Journal;
pub use moment::Moment;
pub use open::{After, Asked, Given, Hold, InputId, Kept, NotKept, On, OpenJob, Via, When, booked};
pub use pending::{AnswerKind, Pending, Photo, Prompt, PromptField};
pub use state::{Blocker, Phase, State};
