//! Scripts: expressions in procedures, and files of functions. The only user of the script language's crate.
//!
//! A script is a guest: it sees its inputs and nothing else, every limit is the same in debug and release, and nothing it
//! can do turns an error into a verdict. Where the language would answer wrongly without a word (`"12" < 5` is false, a
//! division of whole numbers drops the rest, a misspelt property is nothing), it is made to stop instead.

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

pub use api::{Documented, documented};
pub use explain::Explained;
pub use expression::Expression;
pub use infer::Shapes;
pub use library::ScriptFile;
pub use lower::{
    Abreast, Condition, Declared, Field, HandedOver, Held, LANES, Lowered, Port, Promised, Read, Room, Way,
};
pub use names::{ComparedText, Fault, Name, Names};
pub use scripts::Scripts;
pub use shape::{Measured, Shape};
pub use tables::TableFile;
pub use words::usable_name;

/// Version of the interpreter, kept in every plan: the pinned one of Cargo.toml.
pub const VERSION: &str = "rhai 1.27.0";
