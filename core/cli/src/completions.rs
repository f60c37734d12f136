//! `completions`: what a shell needs to complete commands and options.

use clap::CommandFactory;

use super::Exit;
use super::args::{Args, Completions};
use super::context::Context;

pub fn run(args: &Completions, context: &Context) -> Exit {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Args::command(), "standpipe", &mut script);
    context.out(&String::from_utf8_lossy(&script));
    Exit::Well
}
