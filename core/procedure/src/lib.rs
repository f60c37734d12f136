#![doc = include_str!("../README.md")]

pub mod check;
mod expr;
pub mod field;
pub mod learned;
mod mark;
pub mod model;
pub mod page;
pub mod proposes;
pub mod raw;
mod raw_forms;
mod step;
mod stricter;
pub mod template;
mod whole;

pub use check::{check, confidence_in};
pub use expr::Expr;
pub use field::{Field, FieldKind, Misread, ScaleEnd};
pub use learned::Learned;
pub use mark::{Changed, Mark};
pub use model::{Age, Evidence, Gate, LeftOut, Otherwise, Procedure, Stale, Step, TagLine};
pub use step::{Ask, Children, HELD, Kind, Miss, Next, Progress, WORDS, Weighed, With};
pub use template::Template;

/// What editors are told of a procedure's file.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(raw::RawProcedure)
}
