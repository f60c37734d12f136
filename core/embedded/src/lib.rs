#![doc = include_str!("../README.md")]

use include_dir::{Dir, include_dir};

/// Every file of `plugins/`.
pub static PLUGINS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../plugins");
/// Every file of `scripts/`, the standard calculation library.
pub static SCRIPTS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../scripts");
