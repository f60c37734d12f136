//! The one place that opens files.
//!
//! A folder may come from anybody: a table in it may be a link to a device that never ends, a journal a pipe that nobody
//! writes to, a lock a link to a file that must not be overwritten. So what is opened is looked at first, by what was opened
//! and not by its name, which may stand for something else a moment later.

mod flags;
mod hold;
mod read;
mod write;

pub use hold::{Held, NotHeld, hold};
pub use read::{bytes, open, others_may_read, own, pieces, stream, text, whole_folder};
pub use write::{append, create, folder, fresh, lock, over, replace, sync, whole, whole_secret};

/// A file for people: procedures, tables, scripts, answers. Larger ones are not meant to be read whole.
pub const TEXT: u64 = 8 << 20;
