//! Who answers what a job asks.

pub mod answers;
pub mod headless;
pub mod terminal;
