#![doc = include_str!("../README.md")]

mod api;
mod comparison;
mod convert;
mod explain;
mod expression;
mod fault;
mod guest;
mod infer;
mod interpreter;
mod library;
mod limits;
mod lower;
mod names;
mod operand;
mod operator;
mod parse_fault;
mod property;
mod run;
mod scripts;
mod shape;
mod tables;
mod text;
mod token;
mod walk;
mod words;

#[cfg(test)]
mod tests;

pub use api::{Documented, documented, student_t};
pub use explain::Explained;
pub use expression::Expression;
pub use infer::Shapes;
pub use library::ScriptFile;
pub use lower::{Condition, Declared, Flat, HandedOver, Lowered, Promised, WARNINGS, Way};
pub use names::{ComparedText, Fault, Name, Names};
pub use scripts::Scripts;
pub use shape::{Measured, Shape};
pub use tables::TableFile;
pub use words::usable_name;

/// Version of the interpreter, kept in every plan: the pinned one of Cargo.toml.
pub const VERSION: &str = "rhai 1.27.0";
