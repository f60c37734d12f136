//! Plans and records as people and programs read them. Nothing here decides anything.

mod lines;
pub mod record;
