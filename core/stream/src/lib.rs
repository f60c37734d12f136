//! A reader that is followed while a job runs: a growing file or standard input.
//!
//! [`follow`] reads in a thread of its own and knows only bytes; [`Watch`] is pure: rows and times go in, whether a reading
//! can be relied on comes out; [`Live`] holds the two together with the log they come from. Nothing here decides anything.

mod again;
mod described;
mod follow;
mod raw;
mod stream;
#[cfg(test)]
mod tests;
mod watch;

pub use again::{Kept, Then, as_typed};
pub use described::{Described, described};
pub use follow::{Following, Message, Source, follow};
pub use raw::Raw;
pub use stream::{Column, Heard, Live, OneRow, columns, limits, mapped, wanted};
pub use watch::{Limits, Reading, Watch, span};
