//! Runs service procedures written in YAML, computes what they need, and keeps a record that can be replayed.
//!
//! The work is done by the crates under `core/`; each is a module here.

pub use standpipe_audit as audit;
pub use standpipe_book as book;
pub use standpipe_check::{self as check, case};
pub use standpipe_cli as cli;
pub use standpipe_diagnostic::{self as diagnostic, columns, source};
pub use standpipe_drivers as drivers;
pub use standpipe_form as form;
pub use standpipe_job::{self as job, plan};
pub use standpipe_library as library;
pub use standpipe_log as log;
pub use standpipe_overlay as overlay;
pub use standpipe_pack as pack;
pub use standpipe_procedure as procedure;
pub use standpipe_quantity::{self as quantity, series, table, value};
pub use standpipe_report as report;
pub use standpipe_script as script;
pub use standpipe_sheet as sheet;
pub use standpipe_sign as sign;
pub use standpipe_simulate as simulate;
pub use standpipe_stream as stream;
pub use standpipe_yaml as yaml;
