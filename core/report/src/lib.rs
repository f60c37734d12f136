#![doc = include_str!("../README.md")]

pub mod history;

pub mod audit;
mod block;
pub mod card;
pub mod customer;
mod data;
pub mod jobs;
pub mod log;
mod mentions;
pub mod outline;
pub mod page;
mod picture;
pub mod proposal;
pub mod record;
pub mod sheet;
mod shown;
pub mod simulation;
pub mod tag;
pub mod xml;

pub use data::{CardData, RecordData, schema_of};
pub use picture::{Svg, live, map};
pub use shown::{count, words};

/// Stands on every card and record.
pub const NOTICE: &str = "The maker's service information, local rules and licensed practice come first.";
