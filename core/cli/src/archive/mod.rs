//! `archive`: many jobs as columns.

#[cfg(feature = "archive")]
mod adding;

use std::path::PathBuf;

use clap::Args as ClapArgs;

#[cfg(feature = "archive")]
pub use adding::run;

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folders with jobs in them, or single jobs; those already in the archive are skipped
    #[arg(value_name = "JOBS", required = true)]
    pub jobs: Vec<PathBuf>,
    /// The folder of the archive: a new one, or one to add to
    #[arg(long, value_name = "FOLDER")]
    pub into: PathBuf,
    /// Add notes, reasons and other free text, too: there may be names in it
    #[arg(long)]
    pub words: bool,
}

const SCHEMA: &str = "standpipe.archived/1";

/// Crates of their own write columns, and no job needs them.
#[cfg(not(feature = "archive"))]
pub fn run(args: &Args, context: &crate::context::Context) -> crate::Exit {
    use standpipe_diagnostic::Code;
    let problem =
        crate::job_folder::about(&args.into, Code::WrongArguments, "this build of standpipe writes no columns");
    context.failed(SCHEMA, &[problem.help("build it with `cargo build --release --features archive`")]);
    crate::Exit::Usage
}
