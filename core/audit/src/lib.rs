#![doc = include_str!("../README.md")]

mod against;
mod amended;
mod apart;
mod archived;
mod at_hand;
mod book;
mod decided;
mod devices;
mod entered;
mod extract;
mod habits;
mod instruments;
mod journal;
mod keys;
mod known;
mod logs;
mod margin;
mod moved;
mod near;
mod order;
mod packed;
mod parallel;
mod people;
mod point;
mod readings;
mod recall;
mod schema;
mod seen;
mod stamps;
#[cfg(test)]
mod tests;
mod torn;
mod whole;

pub use against::{Missed, Recheck};
pub use archived::Archived;
pub use at_hand::differing;
pub use book::{due, missing};
pub use journal::{Asked, Audited, audit, not_built};
pub use known::Books;
pub use margin::Margin;
pub use parallel::{audit_all, on_all_cores};
pub use point::{At, Finding, Point, Verdict};
pub use recall::Recall;
pub use schema::schema;
pub use stamps::{Anchored, stamped};
