#![doc = include_str!("../README.md")]

use std::io::{ErrorKind, IsTerminal};
use std::process::ExitCode;

use clap::FromArgMatches;

use standpipe_diagnostic::columns::for_terminal;
use standpipe_script::Way;

mod amend;
mod archive;
mod args;
mod audit;
mod book;
mod calc;
mod card;
mod check;
mod compare;
mod completions;
mod context;
mod convert;
mod defect;
mod exit;
mod fix;
mod formats;
mod job_folder;
mod jobs;
mod log;
mod manual;
mod new;
mod no_job;
mod on_disk;
mod pack;
mod progress;
mod propose;
mod reader;
mod report;
mod run;
mod said;
mod schema;
mod serve;
mod show;
mod sign;
mod signals;
mod simulate;
mod target;
mod test;
mod when;

pub use check::{checked, fixed};
pub use exit::Exit;

/// Parses the arguments and runs the command.
pub fn run() -> ExitCode {
    defect::guarded(parsed).into()
}

fn parsed() -> Exit {
    let matches = match formats::command().try_get_matches() {
        Ok(matches) => matches,
        Err(fault) => {
            return printed(&fault);
        }
    };
    let args = match args::Args::from_arg_matches(&matches) {
        Ok(args) => args,
        Err(fault) => {
            return printed(&fault);
        }
    };
    match args.common.scripts {
        Some(args::By::Rhai) => Way::Interpreted.choose(),
        Some(args::By::Lowered) => Way::Lowered.choose(),
        None => {}
    }
    let context = context::Context::new(&args.common);
    if let Err(problem) = context.suits(formats::of(matches.subcommand_name().unwrap_or_default())) {
        context.failed("standpipe.arguments/1", &[*problem]);
        return context.settled(Exit::Usage);
    }
    let exit = match &args.command {
        args::Command::Check(check) => check::run(check, &context),
        args::Command::Compare(compare) => compare::run(compare, &context),
        args::Command::Test(test) => test::run(test, &context),
        args::Command::Calc(calc) => calc::run(calc, &context),
        args::Command::Convert(convert) => convert::run(convert, &context),
        args::Command::Schema(schema) => schema::run(schema, &context),
        args::Command::Manual(manual) => manual::run(manual, &context),
        args::Command::Completions(completions) => completions::run(completions, &context),
        args::Command::Run(run) => run::run(run, &context),
        args::Command::Report(report) => report::run(report, &context),
        args::Command::Log(log) => log::run(log, &context),
        args::Command::Show(show) => show::run(show, &context),
        args::Command::New { what } => new::run(what, &context),
        args::Command::Card(card) => card::run(card, &context),
        args::Command::Jobs(jobs) => jobs::run(jobs, &context),
        args::Command::Propose(args) => propose::run(args, &context),
        args::Command::Amend(amend) => amend::run(amend, &context),
        args::Command::Book(book) => book::run(book, &context),
        args::Command::Sign(args) => sign::run(args, &context),
        args::Command::Pack(args) => pack::run(args, &context),
        args::Command::Archive(args) => archive::run(args, &context),
        args::Command::Audit(audit) => audit::run(audit, &context),
        args::Command::Simulate(simulate) => simulate::run(simulate, &context),
        args::Command::Serve(serve) => serve::run(serve, &context),
    };
    context.settled(exit)
}

/// What the arguments come to by themselves: help and version, which are no faults and go to standard output, or what is
/// wrong with them.
fn printed(said: &clap::Error) -> Exit {
    if said.use_stderr() {
        let coloured = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
        let text = if coloured { said.render().ansi().to_string() } else { said.render().to_string() };
        context::say(for_terminal(&text, coloured).trim_end());
        return Exit::Usage;
    }
    match said.print() {
        Err(fault) if fault.kind() != ErrorKind::BrokenPipe => {
            context::say(&context::unwritten(&fault));
            Exit::Usage
        }
        _ => Exit::Well,
    }
}
