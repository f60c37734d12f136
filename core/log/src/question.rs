//! What a log leaves open, with what it could be.

/// Answered by an option of the command line, or once and for all in the shop file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// What is asked, in one line.
    pub message: String,
    /// The answer as an option with a place to fill in: `--column level=COLUMN`.
    pub option: String,
    /// What can be filled in.
    pub choices: Vec<String>,
    /// Line of the log it is about.
    pub line: u64,
}

impl Question {
    pub(super) fn decimal(cell: &str, line: u64) -> Self {
        Self {
            message: format!("`{cell}` may have a decimal sign or one of thousands"),
            option: "--decimal SIGN".to_owned(),
            choices: vec!["point".to_owned(), "comma".to_owned()],
            line,
        }
    }
}

/// Why a log can't be read on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    Asked(Vec<Question>),
    Unusable { line: u64, message: String, help: String },
}

impl Trouble {
    pub(super) fn unusable(line: u64, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::Unusable { line, message: message.into(), help: help.into() }
    }
}

impl Trouble {
    /// In one sentence or two, with what could be said.
    pub fn words(&self, source: &str) -> String {
        match self {
            Self::Unusable { line, message, help } => format!("{source}, line {line}: {message}; {help}"),
            Self::Asked(questions) => {
                let all = questions.iter().map(|question| {
                    format!("{} ({}; one of: {})", question.message, question.option, question.choices.join(", "))
                });
                format!("{source}: {}", all.collect::<Vec<_>>().join("; "))
            }
        }
    }
}
