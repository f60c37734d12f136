//! What a script may use up: the same in debug and release, so that what passes a test passes in the shop.

use std::time::Duration;

use super::interpreter::Interpreter;

/// Measured: 32 levels overflow a 2 MiB stack in a debug build.
pub(super) const CALL_LEVELS: usize = 16;
pub(super) const EXPRESSION_DEPTH: usize = 64;
pub(super) const OPERATIONS: u64 = 200_000;
pub(super) const TEXT: usize = 64 * 1024;
/// Entries, those of lists inside it included. Measured: a list 6,000 deep in itself overflows a stack of 1 MiB when it is
/// dropped, so this is a limit on depth too.
pub(super) const LIST: usize = 4_000;
/// Entries of records, those of records inside it and in a list of them included: so many that a list of nearly a thousand readings,
/// each with a time and a value, is taken. Measured: 2,000 overflow a stack of 1 MiB where lists and records lie in one another by turns.
pub(super) const RECORD: usize = 1_850;
pub(super) const VARIABLES: usize = 256;
pub(super) const FUNCTIONS: usize = 256;
pub(super) const MODULES: usize = 64;
/// How deep lists and records may lie in one another when they enter or leave a script.
pub(super) const NESTING: usize = 32;
pub(super) const SCRIPT_BYTES: usize = 512 * 1024;
/// Positions in the interpreter are 16-bit numbers.
pub(super) const SCRIPT_LINES: usize = 60_000;
/// Far above what the other limits allow: a stop here means a stalled machine, never a verdict.
pub(super) const TIME: Duration = Duration::from_secs(10);

pub(super) fn set(scripts: &mut Interpreter) {
    scripts
        .set_max_call_levels(CALL_LEVELS)
        .set_max_expr_depths(EXPRESSION_DEPTH, EXPRESSION_DEPTH)
        .set_max_operations(OPERATIONS)
        .set_max_string_size(TEXT)
        .set_max_array_size(LIST)
        .set_max_map_size(RECORD)
        .set_max_variables(VARIABLES)
        .set_max_functions(FUNCTIONS)
        .set_max_modules(MODULES);
}
