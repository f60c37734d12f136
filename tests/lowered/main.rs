//! Both ways of working out a script give the same: every case of every plugin, and scripts that nobody wrote.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

mod both_ways;
mod cases;
mod command;
mod random;
mod written;
