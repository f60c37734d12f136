//! `archive`: many jobs as columns.

#[cfg(feature = "archive")]
mod adding;

use std::path::PathBuf;

use clap::Args as ClapArgs;

#[cfg(feature = "archive")]
pub use adding::run;

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folders that jobs lie in, or single jobs; those that are there already are passed over
    #[arg(value_name = "JOBS", required = true)]
    pub jobs: Vec<PathBuf>,
    /// The folder of the archive: a new one, or one that is to grow
    #[arg(long, value_name = "FOLDER")]
    pub into: PathBuf,
    /// Notes, reasons and whatever else somebody wrote in words of their own, too: names may stand in them
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
