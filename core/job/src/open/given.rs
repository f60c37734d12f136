//! What is given to an open job, what it asks, and what became of an input.

use std::fmt::{self, Display, Formatter};
use std::ops::Range;
use std::str::FromStr;

use crate::moment::Moment;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::event::Origin;
use crate::input::{Refusal, What};
use crate::pending::Pending;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};

/// The id that an input carries, so that it is known again when it is sent once more after a lost answer. Whoever makes
/// one makes it at random. Written as 32 hexadecimal digits: not every reader of JSON keeps so large a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct InputId(pub u128);

impl Display for InputId {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

impl FromStr for InputId {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let digits = text.len() == 32 && text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'a'..=b'f'));
        let number = digits.then(|| u128::from_str_radix(text, 16).ok()).flatten();
        number.map(Self).ok_or_else(|| format!("`{text}` is not the id of an input: expected 32 digits of 0-9 and a-f"))
    }
}

impl Serialize for InputId {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for InputId {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

/// The device that an input came from, and what that shows of who gave it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Via {
    pub device: String,
    /// It belongs to who gave the input; else their name was only said.
    pub own: bool,
    /// The witness's own device, where they confirmed there; else their name was only said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub witness: Option<String>,
}

/// An input as somebody gives it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Given {
    /// None where nothing can get lost between the person and the journal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<InputId>,
    /// What was asked when it was made. None for what answers nothing, such as a note, and where nobody else can have
    /// answered meanwhile.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<On>,
    /// None at a terminal, and for answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub via: Option<Via>,
    pub by: String,
    pub origin: Origin,
    pub when: When,
    pub what: What,
}

impl Given {
    /// Typed now, by somebody who saw what is asked.
    pub fn typed(by: &str, what: What) -> Self {
        Self { id: None, on: None, via: None, by: by.to_owned(), origin: Origin::Typed, when: When::Now, what }
    }
}

/// When something was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// As it is given.
    Now,
    /// Earlier; it is entered as it is given, and both times are kept.
    Done(Moment),
    /// By another clock than that of the job: that of answers, or of a model.
    Told { at: Moment, entered_at: Option<Moment> },
}

/// What an input was made on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct On {
    /// The address that was asked, with its item.
    pub asks: String,
    /// Number of the event that was the latest then of those that can change what is asked.
    pub since: u64,
}

/// What a job asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    pub pending: Pending,
    /// What an answer names that is made on it. None where no step is asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<On>,
}

/// An input that is on the disk: the numbers of its events.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kept {
    /// Empty for an input that leads to nothing, such as a reading of which nothing is recorded.
    Now(Range<u64>),
    /// It came a second time; nothing was added.
    Before(Range<u64>),
}

/// Why nothing was recorded.
#[derive(Debug)]
pub enum NotKept {
    Refused(Box<Refusal>),
    /// It was made on something that is not asked any more. `meanwhile`: the events since then.
    Late {
        meanwhile: Range<u64>,
        now: Box<Asked>,
    },
    /// This job is only looked at; [`super::OpenJob::take`] comes first.
    Looking,
    /// The journal could not be written. What is in it is safe, and the same input may be given again.
    Disk(Box<Diagnostic>),
}

impl From<Refusal> for NotKept {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(Box::new(refusal))
    }
}

impl NotKept {
    /// As a message at the place of the input.
    pub fn at(self, place: &Place) -> Diagnostic {
        match self {
            Self::Refused(refusal) => refusal.at(place),
            Self::Late { meanwhile, now } => {
                let events = match meanwhile.end.saturating_sub(meanwhile.start) {
                    0 => "nothing came".to_owned(),
                    1 => format!("event {} came", meanwhile.start),
                    _ => format!("events {} to {} came", meanwhile.start, meanwhile.end.saturating_sub(1)),
                };
                let asked = now.on.map(|on| format!("an answer to `{}`", on.asks));
                let message = format!("this answers something that is no longer asked: {events} meanwhile");
                Diagnostic::error(Code::UnfitAnswer, place, message)
                    .expected(asked.unwrap_or_else(|| "nothing: no step is asked".to_owned()))
                    .help("look at what came meanwhile; if this still matters, correct that or write a note")
            }
            Self::Looking => Diagnostic::error(Code::JournalInUse, place, "this job is open for reading only")
                .help("take the job over first, so that nobody else writes to it"),
            Self::Disk(problem) => *problem,
        }
    }
}
