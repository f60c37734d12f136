//! What can be wrong with a quantity as written, and with what is done to it.

use std::fmt;
use std::ops::Range;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};

/// A text that is not the quantity asked for.
#[derive(Clone, Debug, PartialEq)]
#[must_use = "a fault that nobody gets"]
pub struct ReadFault {
    /// What kind of fault it is.
    pub code: Code,
    /// What was found.
    pub message: String,
    /// Bytes of the text that was read.
    pub range: Range<usize>,
    /// What could stand there instead, if that is a short list.
    pub choices: Vec<String>,
    /// What to do.
    pub help: Option<String>,
    /// What is certain to be meant by what is marked.
    pub mend: Option<Box<str>>,
}

impl ReadFault {
    pub(super) fn new(code: Code, range: Range<usize>, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), range, choices: Vec::new(), help: None, mend: None }
    }

    pub(super) fn choices(mut self, choices: impl IntoIterator<Item = String>) -> Self {
        self.choices = choices.into_iter().collect();
        self
    }

    pub(super) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    pub(super) fn mend(mut self, write: impl Into<String>) -> Self {
        self.mend = Some(write.into().into_boxed_str());
        self
    }

    /// The message at its place; `place` covers the text that was read.
    pub fn at(self, place: &Place) -> Diagnostic {
        let exact = place.slice(self.range);
        let mut diagnostic = Diagnostic::error(self.code, &exact, self.message);
        if !self.choices.is_empty() {
            diagnostic = diagnostic.expected(self.choices.join(", "));
        }
        diagnostic.help = self.help;
        match self.mend {
            Some(write) => diagnostic.mend(write),
            None => diagnostic,
        }
    }
}

impl fmt::Display for ReadFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        if let Some(help) = &self.help {
            write!(f, "; {help}")?;
        }
        Ok(())
    }
}

impl std::error::Error for ReadFault {}

/// Two quantities that do not go together, or a result that is no number.
#[derive(Clone, Debug, PartialEq)]
#[must_use = "a fault that nobody gets"]
pub struct DimensionFault {
    /// What kind of fault it is.
    pub code: Code,
    /// What was found.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
}

impl DimensionFault {
    pub(super) fn new(code: Code, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), help: None }
    }

    pub(super) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The message at a place.
    pub fn at(self, place: &Place) -> Diagnostic {
        let mut diagnostic = Diagnostic::error(self.code, place, self.message);
        diagnostic.help = self.help;
        diagnostic
    }
}

impl fmt::Display for DimensionFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        if let Some(help) = &self.help {
            write!(f, "; {help}")?;
        }
        Ok(())
    }
}

impl std::error::Error for DimensionFault {}

/// What somebody wrote, short enough for a message.
pub(super) fn quote(text: &str) -> String {
    let text = text.trim();
    if text.chars().count() <= 40 {
        format!("`{text}`")
    } else {
        format!("`{}...`", text.chars().take(37).collect::<String>())
    }
}
