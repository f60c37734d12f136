#![doc = include_str!("../README.md")]

mod at_hand;
mod bench;
pub mod cause;
pub mod count;
pub mod draw;
mod halving;
mod hidden;
mod kept;
pub mod model;
mod outcome;
pub mod people;
mod person;
pub mod report;
pub mod set;
mod simulation;
mod tally;
pub mod without;
pub mod worth;

pub use at_hand::{AtHand, Passing, Told};
pub use bench::Bench;
pub use model::Model;
pub use outcome::{Claim, Outcome};
pub use people::{People, Slip};
pub use person::{PHOTO, PHOTO_NAME, Person};
pub use simulation::{Failed, Settings};
pub use tally::{FaultTally, Tally};
