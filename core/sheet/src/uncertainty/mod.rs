//! What the uncertainty of inputs makes of a result, by Monte Carlo trials as in JCGM 101:2008 (from memory).
//!
//! Every trial runs the sheet once, with each uncertain input drawn once: an input that is used twice is the same in both
//! places, and nothing is assumed of the formula. Inputs are taken as independent of one another.

mod random;
mod settle;
mod spread;
mod trials;
mod written;

pub use random::Random;
pub use spread::{Error, Spread};
pub use trials::{Fault, Found, Plan, Propagated, propagate, propagate_here};
pub use written::read;
