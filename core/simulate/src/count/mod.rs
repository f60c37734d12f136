//! What counts of jobs show: shares with exact intervals, pairs, and when to stop.

mod beta;
mod looks;
mod paired;
mod share;

pub use looks::{Look, Looks};
pub use paired::{Paired, holm};
pub use share::{Interval, interval};
