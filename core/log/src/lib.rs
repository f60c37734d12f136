#![doc = include_str!("../README.md")]

mod around;
mod beside;
mod cells;
mod choices;
mod clock;
mod collected;
mod columns;
mod description;
mod encoding;
mod ground;
mod judge;
pub mod kept;
mod log_clock;
mod mapping;
mod number;
mod question;
mod reader;
mod rows;
mod sniff;
mod tally;
mod understood;
mod wanted;
mod words;

#[cfg(test)]
mod tests;

pub use around::{around, clock, job_day};
pub use beside::Contradiction;
pub use choices::{Choices, TimeForm};
pub use collected::{Collected, Unread};
pub use description::{Check, Description, Event, schema};
pub use encoding::{Encoding, head_text};
pub use ground::Ground;
pub use judge::{Around, Judged};
pub use log_clock::LogClock;
pub use mapping::{Said, of_mapping};
pub use number::DecimalSign;
pub use question::{Question, Trouble};
pub use reader::{LogReader, Row};
pub use tally::{First, Tally};
pub use understood::{ColumnRead, TimeRead, Understood};
pub use wanted::{Wanted, WantedColumn};
