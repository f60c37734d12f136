//! `completions`: what a shell needs to complete commands and options.

use super::Exit;
use super::args::Completions;
use super::context::Context;
use super::formats;

pub fn run(args: &Completions, context: &Context) -> Exit {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut formats::command(), "standpipe", &mut script);
    context.out(&String::from_utf8_lossy(&script));
    Exit::Well
}
