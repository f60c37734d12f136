//! What the forecasts promise, against invented runs whose truth is known.
//!
//! `cargo test --test calculations matrix -- --ignored --nocapture` prints the matrix; `STANDPIPE_RUNS` sets the runs of each regime,
//! `STANDPIPE_SEED` the seed, and `STANDPIPE_OTHERS=1` takes figures and rates that were kept aside while the forecast was tuned.

mod binomial;
mod bodies;
mod chance;
mod cooling;
mod matrix;
mod oracle;
mod regimes;
