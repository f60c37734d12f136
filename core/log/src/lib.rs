//! Readings from files and streams: what a reader wrote, understood before it is used.
//!
//! Bytes are pushed in as they come, rows come out; a finished file and a growing stream go the same way, in memory that
//! does not grow with them. Nothing is guessed: where two columns, units or decimal signs would do, it is asked.

mod beside;
mod cells;
mod choices;
mod clock;
mod collected;
mod columns;
mod description;
mod dial;
mod encoding;
mod judge;
pub mod kept;
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

pub use beside::Contradiction;
pub use choices::{Choices, TimeForm};
pub use collected::{Collected, Unread};
pub use description::{Check, Description, Event, schema};
pub use dial::Dial;
pub use encoding::{Encoding, head_text};
pub use judge::{Around, Judged};
pub use mapping::{Said, of_mapping};
pub use number::DecimalSign;
pub use question::{Question, Trouble};
pub use reader::{LogReader, Row};
pub use tally::{First, Tally};
pub use understood::{ColumnRead, TimeRead, Understood};
pub use wanted::{Wanted, WantedColumn};
