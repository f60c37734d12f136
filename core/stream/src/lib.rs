#![doc = include_str!("../README.md")]

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
pub use standpipe_job::said::span;
pub use stream::{Column, Heard, Live, OneRow, column_of, columns, limits, mapped, wanted};
pub use watch::{Limits, Reading, Watch};
