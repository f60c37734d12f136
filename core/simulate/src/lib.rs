#![doc = include_str!("../README.md")]

mod at_hand;
mod bench;
pub mod cause;
mod changes;
pub mod count;
pub mod draw;
mod halving;
mod hidden;
pub mod inputs;
mod interpreted;
mod job_text;
mod kept;
pub mod limit;
pub mod model;
mod outcome;
pub mod people;
mod person;
pub mod report;
pub mod set;
mod simulation;
pub mod spread_of;
mod stand;
mod tally;
pub mod without;
pub mod worth;

pub use at_hand::{AtHand, Passing, Told};
pub use bench::Bench;
pub use changes::{Changes, parts_of};
pub use interpreted::Interpreted;
pub use model::Model;
pub use outcome::{Claim, Outcome};
pub use people::{People, Slip};
pub use person::{PHOTO, PHOTO_NAME, Person};
pub use simulation::{Failed, Settings};
pub use stand::{Question, Stand};
pub use tally::{FaultTally, Tally};
