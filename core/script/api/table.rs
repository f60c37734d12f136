//! Tables of plugins.

use super::{Arguments, Function};
use crate::script::convert::into_script;
use crate::script::guest::Answer;

pub(super) const FUNCTIONS: &[Function] = &[Function {
    name: "rows",
    takes: &["table"],
    about: "The lines of a table that the family names, each a record with the columns as names.",
    examples: &[
        ("rows(\"nowhere\")", "error: `rows`: the family names no table `nowhere`"),
        ("rows(5)", "error: `rows` wants a text, found the number 5"),
    ],
    run: rows,
}];

/// Not part of `spec.`: a value that is looked at is kept in the journal, and a table stands in the plan already.
fn rows(a: Arguments<'_, '_>) -> Answer {
    let id = a.text(0)?;
    match a.run.tables.borrow().get(id.as_str()) {
        Some(table) => Ok(into_script(table, &id)),
        None => Err(a.fail(format!("the family names no table `{id}`"))),
    }
}
