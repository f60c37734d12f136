//! What the machine has to say beside values: codes with what they are about. Words are made of them where they are shown, so
//! that a record that was kept can be read in other words, or in another language, later.

use std::fmt;

use indexmap::IndexMap;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::plan::Plan;
use standpipe_diagnostic::Diagnostic;
use standpipe_form::Recognised;
use standpipe_procedure::Miss;
use standpipe_quantity::value::Value;
use standpipe_script::Fault;

/// What is to be known of an entry beside its values.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Remark {
    /// Its values come from the rows of this file.
    FromLog(String),
    FromReader,
    CalibrationOver {
        instrument: String,
        due: Date,
    },
    /// It does not count, and why.
    Missed(Miss),
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Remark::FromLog(file) => write!(f, "from the log {file}"),
            Remark::FromReader => f.write_str("from the reader that was followed"),
            Remark::CalibrationOver { instrument, due } => write!(f, "calibration of `{instrument}` ran out on {due}"),
            Remark::Missed(miss) => write!(f, "{miss}"),
        }
    }
}

/// Why something is not shown: a name that has no value, or what went wrong when it was worked out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Lack {
    Name(String),
    Because(Reason),
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    Failed(Failure),
    /// This condition is neither true nor false.
    NotTruth(String),
    /// How far this value may be off: it was computed.
    ComputedErrorOf(String),
    /// How far this value may be off: it was read without an instrument.
    UnknownErrorOf(String),
    /// How far this instrument may be off.
    AccuracyOf(String),
}

/// A message of the interpreter or of a sheet, with its code; the words are those of the version that gave it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Failure {
    pub code: String,
    pub message: String,
}

impl From<&Diagnostic> for Failure {
    fn from(diagnostic: &Diagnostic) -> Self {
        Self { code: diagnostic.code.name().to_owned(), message: diagnostic.message.clone() }
    }
}

impl Lack {
    pub fn names(names: Vec<String>) -> Vec<Self> {
        names.into_iter().map(Lack::Name).collect()
    }

    /// What a script that gives no value lacks.
    pub fn of(fault: Fault) -> Vec<Self> {
        match fault {
            Fault::NotShown(names) => Self::names(names),
            Fault::Failed(diagnostic) => vec![Lack::Because(Reason::Failed((&*diagnostic).into()))],
        }
    }
}

impl fmt::Display for Lack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Lack::Name(name) => f.write_str(name),
            Lack::Because(reason) => write!(f, "{reason}"),
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Reason::Failed(failure) => f.write_str(&failure.message),
            Reason::NotTruth(text) => write!(f, "`{text}` is neither true nor false"),
            Reason::ComputedErrorOf(name) => write!(f, "how far `{name}` may be off, which is computed"),
            Reason::UnknownErrorOf(name) => {
                write!(f, "how far `{name}` may be off: it was read without an instrument")
            }
            Reason::AccuracyOf(instrument) => write!(f, "how far `{instrument}` may be off"),
        }
    }
}

/// As people read it, one after the other.
pub fn listed(lacks: &[Lack]) -> String {
    lacks.iter().map(Lack::to_string).collect::<Vec<_>>().join(", ")
}

/// Why a round is over before its last step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RoundEnd {
    /// The gate of a step was not met, and sends on to the next round.
    NotMet,
    /// A reading went past the range that was awaited.
    GonePast,
    /// What this step says has undone it.
    Undone(String),
}

impl fmt::Display for RoundEnd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RoundEnd::NotMet => f.write_str("the gate was not met"),
            RoundEnd::GonePast => f.write_str("the reading has gone past its range"),
            RoundEnd::Undone(step) => write!(f, "undone at `{step}`"),
        }
    }
}

/// What is wrong with the plan of a job, so that it can't go on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PlanFault {
    Circle,
    /// This condition is neither true nor false.
    NotTruth(String),
    /// This expression needs what nobody has read.
    Unread {
        expression: String,
        names: Vec<String>,
    },
    NoSheet {
        step: String,
        sheet: String,
    },
    NoResult {
        sheet: String,
        missing: Vec<Lack>,
    },
    Failed(Failure),
}

impl fmt::Display for PlanFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PlanFault::Circle => f.write_str("the procedure goes round in circles"),
            PlanFault::NotTruth(text) => write!(f, "`when: {text}` is neither true nor false"),
            PlanFault::Unread { expression, names } => {
                write!(f, "`{expression}` needs {}, which nobody has read", names.join(", "))
            }
            PlanFault::NoSheet { step, sheet } => {
                write!(f, "step `{step}` needs the sheet `{sheet}`, which is not in the plan")
            }
            PlanFault::NoResult { sheet, missing } => write!(f, "`{sheet}` gives no result: {}", listed(missing)),
            PlanFault::Failed(failure) => f.write_str(&failure.message),
        }
    }
}

/// What is seen and what is known do not go together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Contradiction {
    OtherVariant {
        seen: String,
        known: String,
    },
    /// No variant has these signs.
    NoVariant(IndexMap<String, Value>),
}

impl Contradiction {
    pub fn words(&self, plan: &Plan) -> String {
        match self {
            Contradiction::OtherVariant { seen, known } => format!(
                "what is seen belongs to `{seen}`, but the job is for `{known}`: find out which before anything is opened"
            ),
            Contradiction::NoVariant(signs) => match plan.recognise(signs) {
                Recognised::None(message) => message,
                // The plan was changed since; what it says then is somebody else's business.
                _ => "what is seen fits no variant".to_owned(),
            },
        }
    }
}

/// What comes with a turn of a reader. All times in seconds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StreamNote {
    /// Where its readings come from, and for how long it had not been followed.
    From {
        source: String,
        column: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unit: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        quiet: Option<f64>,
    },
    NoReading(f64),
    NoChange(f64),
    Changes,
    Gap(f64),
    /// Its file was cut off or another took its place.
    Replaced,
    /// Something was held so long, with no longer a gap between readings.
    Held {
        time: f64,
        gap: f64,
    },
    /// The program that sent them ended.
    NoMoreRows,
    /// They can't be read or kept any more; what the operating system said.
    Failed(String),
}

impl fmt::Display for StreamNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StreamNote::From { source, column, unit, quiet } => {
                write!(f, "{source}, column `{column}`")?;
                if let Some(unit) = unit {
                    write!(f, " in {unit}")?;
                }
                match quiet {
                    Some(quiet) => write!(f, "; {} since it was last followed: not shown in between", span(*quiet)),
                    None => Ok(()),
                }
            }
            StreamNote::NoReading(time) => write!(f, "no reading for {}", span(*time)),
            StreamNote::NoChange(time) => write!(f, "no change for {}", span(*time)),
            StreamNote::Changes => f.write_str("it changes again"),
            StreamNote::Gap(time) => write!(f, "a gap of {}: not shown", span(*time)),
            StreamNote::Replaced => f.write_str("the file was cut off or replaced; it is read from its start"),
            StreamNote::Held { time, gap } => {
                write!(f, "{} held, no gap longer than {}", span(*time), span(gap.ceil()))
            }
            StreamNote::NoMoreRows => f.write_str("no more rows come"),
            StreamNote::Failed(why) => f.write_str(why),
        }
    }
}

/// A stretch of time in words: `42 s`, `3 min`, `2 h 05 min`.
pub fn span(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    match (whole / 3600, whole / 60 % 60, whole % 60) {
        (0, 0, seconds) => format!("{seconds} s"),
        (0, minutes, 0) => format!("{minutes} min"),
        (0, minutes, seconds) if minutes < 3 => format!("{minutes} min {seconds:02} s"),
        (0, minutes, _) => format!("{minutes} min"),
        (hours, minutes, _) => format!("{hours} h {minutes:02} min"),
    }
}

#[cfg(test)]
mod tests;
