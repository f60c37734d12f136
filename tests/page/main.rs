//! The page for the bay: the program serves, and is answered as devices answer it, by plain forms and in a real browser.

// A test says by failing what was wrong, and by a line that it did not run.
#![allow(clippy::unwrap_used, clippy::print_stderr)]

mod beside;
mod browser;
mod by_forms;
mod by_taps;
mod cable;
mod driver;
#[path = "../folders.rs"]
mod folders;
mod form;
mod gates;
mod http;
mod intruders;
mod kills;
mod list;
mod looks;
mod new_job;
mod reader;
mod scales;
mod server;
mod signals;
mod signs;
mod tls;
mod two_devices;
mod walk;
