//! What stands in a page was typed by somebody: markup in it is shown, and so is whatever would turn letters around.

use minijinja::{Error, Output, State, Value, escape_formatter};

use standpipe_diagnostic::columns::for_terminal;

/// Writes a value into a page. A character that a terminal would obey is no better in a page: some are none of HTML's at all,
/// others make a line read as something else.
///
/// Errors: those of the template.
pub fn only_text(out: &mut Output<'_>, state: &mut State<'_, '_>, value: &Value) -> Result<(), Error> {
    match value.as_str() {
        Some(text) if !value.is_safe() => escape_formatter(out, state, &Value::from(for_terminal(text, false))),
        _ => escape_formatter(out, state, value),
    }
}
