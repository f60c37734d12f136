//! What every command shares: where plugins and shop are, and how things are written out.

use std::io::{IsTerminal, Write};

use serde_json::{Value as Json, json};

use super::args::{Color, Common, Format};
use crate::diagnostic::{Diagnostic, Look, human, json as problems_json};

pub struct Context {
    pub common: Common,
}

/// Columns of a page of text when nobody says otherwise.
const COLUMNS: usize = 80;

impl Context {
    pub fn new(common: &Common) -> Self {
        Self { common: common.clone() }
    }

    pub fn json(&self) -> bool {
        self.common.format == Format::Json
    }

    fn color(&self, terminal: bool) -> bool {
        match self.common.color {
            Color::Always => true,
            Color::Never => false,
            Color::Auto => terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()),
        }
    }

    /// Whether results may be coloured.
    pub fn color_out(&self) -> bool {
        self.color(std::io::stdout().is_terminal())
    }

    pub fn color_err(&self) -> bool {
        self.color(std::io::stderr().is_terminal())
    }

    pub fn width(&self) -> usize {
        match std::io::stdout().is_terminal().then(crossterm::terminal::size) {
            Some(Ok((columns, _))) if columns > 0 => usize::from(columns).clamp(40, 120),
            _ => COLUMNS,
        }
    }

    /// Writes a result. A reader that has gone away (`| head`) is no fault.
    pub fn out(&self, text: &str) {
        let mut out = std::io::stdout().lock();
        let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    }

    /// Writes a message beside the result.
    pub fn note(&self, text: &str) {
        let mut out = std::io::stderr().lock();
        let _ = writeln!(out, "{text}");
    }

    pub fn out_json(&self, value: &Json) {
        let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
        text.push('\n');
        self.out(&text);
    }

    /// Messages for people on standard error; in JSON they travel with the result.
    pub fn report(&self, problems: &[Diagnostic]) {
        if problems.is_empty() || self.json() {
            return;
        }
        self.note(human(problems, Look { color: self.color_err(), width: self.width() }).trim_end());
    }

    /// The JSON of a run that has nothing but messages to show.
    pub fn failed(&self, schema: &str, problems: &[Diagnostic]) {
        self.report(problems);
        if self.json() {
            self.out_json(&json!({ "schema": schema, "ok": false, "problems": problems_json(problems) }));
        }
    }
}
