//! How far it has come, on a terminal.

use std::io::{self, IsTerminal};

use indicatif::{ProgressBar, ProgressStyle};

/// Rows of a table. Nothing is shown when the table itself is on its way to the terminal.
pub fn rows(size: Option<u64>) -> ProgressBar {
    if io::stdout().is_terminal() {
        return ProgressBar::hidden();
    }
    match size {
        Some(size) => styled(|| ProgressBar::new(size), "{wide_bar} {percent:>3} %  {msg} rows  {eta} left"),
        None => styled(ProgressBar::new_spinner, "{spinner} {msg} rows  {elapsed}"),
    }
}

/// Trials, of which nobody knows how many there will be.
pub fn trials() -> ProgressBar {
    styled(ProgressBar::new_spinner, "{spinner} {msg} trials  {elapsed}")
}

fn styled(bar: impl Fn() -> ProgressBar, template: &str) -> ProgressBar {
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    bar().with_style(ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar()))
}
