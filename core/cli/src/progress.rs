//! How far it has come: one line on a terminal, written over and gone at the end.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

use standpipe_stream::span;

/// Often enough to be seen to move.
const BEAT: Duration = Duration::from_millis(100);

pub struct Progress {
    what: &'static str,
    /// Where `at` of [`Progress::tell`] ends, if that is known.
    size: Option<u64>,
    shown: bool,
    begun: Instant,
    drawn: Option<Instant>,
}

impl Progress {
    /// Rows of a table. Nothing is shown when the table itself is on its way to the terminal.
    pub fn of_rows(size: Option<u64>) -> Self {
        Self::new("rows", size, !io::stdout().is_terminal())
    }

    /// Trials, of which nobody knows how many there will be.
    pub fn of_trials() -> Self {
        Self::new("trials", None, true)
    }

    /// Jobs of a batch, in whatever order they come.
    pub fn of_jobs(all: usize) -> Self {
        Self::new("jobs", Some(all as u64), all > 1)
    }

    fn new(what: &'static str, size: Option<u64>, shown: bool) -> Self {
        Self { what, size, shown: shown && io::stderr().is_terminal(), begun: Instant::now(), drawn: None }
    }

    /// So many are done, and the input has been read up to here.
    pub fn tell(&mut self, count: u64, at: u64) {
        if self.shown && self.drawn.is_none_or(|drawn| drawn.elapsed() >= BEAT) {
            self.drawn = Some(Instant::now());
            let line = line(self.what, count, at, self.size, self.begun.elapsed().as_secs_f64());
            // Nothing hangs on it.
            let _ = write!(io::stderr(), "\r\x1b[K{line}");
        }
    }

    /// Takes the line away.
    pub fn end(self) {
        if self.drawn.is_some() {
            let _ = write!(io::stderr(), "\r\x1b[K");
        }
    }
}

fn line(what: &str, count: u64, at: u64, size: Option<u64>, seconds: f64) -> String {
    match size {
        Some(size) if at > 0 && size > 0 => {
            let share = at.min(size) as f64 / size as f64;
            let left = span(seconds * (1.0 - share) / share);
            format!("{:3.0} %  {count} {what}  {left} left", (share * 100.0).floor())
        }
        _ => format!("{count} {what}  {}", span(seconds)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_how_much_is_done_and_how_long_the_rest_takes() {
        assert_eq!(line("rows", 1200, 250, Some(1000), 20.0), " 25 %  1200 rows  1 min left");
        assert_eq!(line("rows", 4800, 1000, Some(1000), 80.0), "100 %  4800 rows  0 s left");
        assert_eq!(line("rows", 0, 0, Some(1000), 3.0), "0 rows  3 s");
        assert_eq!(line("trials", 70_000, 0, None, 75.0), "70000 trials  1 min 15 s");
    }
}
