//! A reader that is followed while somebody types: heard between two keys, with a bell, and two lines that say how it stands.

use std::time::Duration;

use super::page::Page;
use super::session::{Fault, Session, terminal_fault, unkept};

/// How often the screen listens while no key comes.
pub(super) const BEAT: Duration = Duration::from_millis(200);

impl Session<'_> {
    pub(super) fn seconds(&self) -> f64 {
        self.console.elapsed().as_secs_f64()
    }

    /// Takes what has come, and records what has to be.
    pub(super) fn listen(&mut self) -> Result<(), Fault> {
        let (now, at) = (self.seconds(), (self.clock)());
        let Some(reader) = &mut self.reader else { return Ok(()) };
        if reader.listen(self.job, &self.who, now, at).map_err(unkept)? {
            self.console.bell().map_err(|error| terminal_fault(&error))?;
        }
        Ok(())
    }

    /// How the reader stands, on the page that is shown.
    pub(super) fn say_how_it_stands(&self, page: &mut Page) {
        if let Some(reader) = &self.reader {
            let stands = reader.stands(self.job, self.seconds());
            (page.live, page.alarm) = (stands.lines, stands.alarm);
        }
    }

    /// Whether readings came all through a time that was held.
    pub(super) fn cover(&mut self, from: f64, to: f64) -> Result<(), Fault> {
        let at = (self.clock)();
        match &self.reader {
            Some(reader) => reader.cover(self.job, &self.who, (from, to), at).map_err(unkept),
            None => Ok(()),
        }
    }
}
