//! Who answers what a job asks.

pub mod answers;
pub mod feed;
pub mod headless;
mod listen;
mod logs;
pub mod terminal;
