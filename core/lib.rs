//! Runs service procedures written in YAML, computes what they need, and keeps a record that can be replayed.

pub mod cli;
pub mod diagnostic;
pub mod form;
pub mod library;
pub mod procedure;
pub mod quantity;
pub mod script;
pub mod source;
pub mod value;
pub mod yaml;
