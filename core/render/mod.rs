//! Cards, records and lists, as text and as data. Nothing is judged here: what a job says is only told.

pub mod audit;
pub mod card;
pub mod jobs;
pub mod log;
mod mentions;
pub mod record;
pub mod sheet;
mod shown;
pub mod tag;
pub mod xml;

/// Stands on every card and record.
pub const NOTICE: &str = "The maker's service information, local rules and licensed practice come first.";
