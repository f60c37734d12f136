//! Who answers what a job asks.

pub mod terminal;
