//! `pack`: one job as one file to hand over.

use std::path::PathBuf;

use clap::Args as ClapArgs;
use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::folder_of;
use standpipe_diagnostic::{Diagnostic, has_errors, json as problems_json};
use standpipe_pack::Packed;
use standpipe_report::count;

const SCHEMA: &str = "standpipe.pack/1";

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of a job, or its journal file
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// The file to make, a zip that any program opens; one that is there stays
    #[arg(long, short, value_name = "FILE.zip")]
    pub out: PathBuf,
}

pub fn run(args: &Args, context: &Context) -> Exit {
    match packed(args) {
        Ok(packed) => {
            context.report(&packed.problems);
            let exit = if has_errors(&packed.problems) { Exit::NotMet } else { Exit::Well };
            if context.json() {
                context.out_json(&json!({
                    "schema": SCHEMA, "ok": exit == Exit::Well, "file": args.out, "files": packed.files, "bytes": packed.bytes,
                    "book_lines": packed.entered, "closed": packed.closed, "problems": problems_json(&packed.problems),
                }));
            } else {
                context.out(&text(args, &packed));
            }
            exit
        }
        Err(problem) => {
            context.failed(SCHEMA, &[*problem]);
            Exit::Usage
        }
    }
}

fn packed(args: &Args) -> Result<Packed, Box<Diagnostic>> {
    standpipe_pack::pack(&folder_of(&args.job)?, &args.out)
}

fn text(args: &Args, packed: &Packed) -> String {
    let mut text = format!("{}: {}, {} bytes\n", args.out.display(), count(packed.files, "file"), packed.bytes);
    if let Some(lines) = packed.entered {
        text.push_str(&format!("with {} of the book beside the job\n", count(lines, "line")));
    }
    if !packed.closed {
        text.push_str("the job is not closed: what comes after is not in it\n");
    }
    text
}
