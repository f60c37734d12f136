//! The terminal itself: the only place here that reads keys and writes to the screen.

use std::io::{self, IsTerminal, Stderr, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::event;
use crossterm::style::Print;
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode, size,
};
use crossterm::{execute, queue};

use super::key::Key;
use super::page::{Drawn, Room};

pub trait Console {
    fn room(&self) -> Room;
    fn colour(&self) -> bool;
    fn draw(&mut self, drawn: &Drawn) -> io::Result<()>;
    /// The next key; `None` when there was none for so long.
    fn key(&mut self, wait: Option<Duration>) -> io::Result<Option<Key>>;
    /// Time since some moment, for a countdown only: the job takes its time from the clock it is given.
    fn elapsed(&self) -> Duration;
    fn bell(&mut self) -> io::Result<()>;
    /// No key is awaited: the terminal works as usual while the job does.
    fn rest(&mut self) -> io::Result<()>;
}

/// Wide enough for a sentence, narrow enough to be read at a glance.
const WIDEST: usize = 80;
const NARROWEST: usize = 40;
/// Cut rather than this short: who has so small a window makes it larger.
const SHORTEST: usize = 12;

/// Prompts go to standard error; standard output is left to results.
pub struct Terminal {
    out: Stderr,
    colour: bool,
    raw: bool,
    begun: Instant,
}

impl Terminal {
    /// `None` when there is nobody to ask: keys or screen are not a terminal.
    pub fn open(colour: bool) -> Option<Self> {
        let out = io::stderr();
        (io::stdin().is_terminal() && out.is_terminal()).then_some(())?;
        let mut terminal = Self { out, colour, raw: false, begun: Instant::now() };
        execute!(terminal.out, EnterAlternateScreen).ok()?;
        TAKEN.store(true, Ordering::Relaxed);
        Some(terminal)
    }
}

/// Whether the screen is ours; whoever ends the program from elsewhere has no [`Terminal`] at hand.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// Gives the terminal back as it was, if it was taken; from any thread, as often as one likes.
pub fn give_back() {
    if TAKEN.swap(false, Ordering::Relaxed) {
        // There is nothing to be done about a terminal that is gone.
        let _ = disable_raw_mode();
        let _ = execute!(io::stderr(), Show, LeaveAlternateScreen);
    }
}

impl Console for Terminal {
    fn room(&self) -> Room {
        let (columns, rows) = size().map_or((WIDEST, SHORTEST), |(columns, rows)| (columns.into(), rows.into()));
        let lines = rows.saturating_sub(1).max(SHORTEST);
        Room { columns: columns.clamp(NARROWEST, WIDEST), lines }
    }

    fn colour(&self) -> bool {
        self.colour
    }

    fn draw(&mut self, drawn: &Drawn) -> io::Result<()> {
        queue!(self.out, Hide)?;
        // Line by line over what was there: cleared as a whole it would flicker with every reading.
        for (row, line) in (0..).zip(&drawn.lines) {
            queue!(self.out, MoveTo(0, row), Clear(ClearType::CurrentLine), Print(line))?;
        }
        let below = u16::try_from(drawn.lines.len()).unwrap_or(u16::MAX);
        queue!(self.out, MoveTo(0, below), Clear(ClearType::FromCursorDown))?;
        if let Some((row, column)) = drawn.cursor {
            let at = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
            queue!(self.out, MoveTo(at(column), at(row)), Show)?;
        }
        self.out.flush()
    }

    fn key(&mut self, wait: Option<Duration>) -> io::Result<Option<Key>> {
        if !self.raw {
            enable_raw_mode()?;
            self.raw = true;
        }
        let until = wait.map(|wait| Instant::now() + wait);
        loop {
            if let Some(until) = until
                && !event::poll(until.saturating_duration_since(Instant::now()))?
            {
                return Ok(None);
            }
            if let Some(key) = Key::from_event(&event::read()?) {
                return Ok(Some(key));
            }
        }
    }

    fn elapsed(&self) -> Duration {
        self.begun.elapsed()
    }

    fn bell(&mut self) -> io::Result<()> {
        execute!(self.out, Print('\u{7}'))
    }

    fn rest(&mut self) -> io::Result<()> {
        if self.raw {
            disable_raw_mode()?;
            self.raw = false;
        }
        Ok(())
    }
}

impl Drop for Terminal {
    /// Also on a panic: the terminal is given back as it was.
    fn drop(&mut self) {
        give_back();
    }
}
