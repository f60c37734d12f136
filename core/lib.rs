//! Runs service procedures written in YAML, computes what they need, and keeps a record that can be replayed.

pub mod ask;
pub mod audit;
pub mod case;
pub mod check;
pub mod cli;
pub mod columns;
pub mod diagnostic;
pub mod earlier;
pub mod form;
pub mod job;
pub mod library;
pub mod live;
pub mod log;
pub mod overlay;
pub mod plan;
pub mod procedure;
pub mod quantity;
pub mod render;
pub mod script;
pub mod series;
pub mod sheet;
pub mod source;
pub mod table;
pub mod value;
pub mod yaml;
