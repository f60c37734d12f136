//! `pack`: one job as one file to hand over.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};
use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::folder_of;
use standpipe_diagnostic::{Diagnostic, has_errors, json as problems_json};
use standpipe_pack::{Packed, Whom};
use standpipe_report::count;

const SCHEMA: &str = "standpipe.pack/1";

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of a job, or its journal file
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// The file to make, a zip that any program opens; nothing is overwritten
    #[arg(long, short, value_name = "FILE.zip")]
    pub out: PathBuf,
    /// Who it is for: an auditor gets nothing that was told at intake, a stranger nobody's texts and no evidence;
    /// what is left still verifies
    #[arg(long = "for", value_name = "WHOM", value_enum, default_value_t = For::Workshop)]
    pub whom: For,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum For {
    Workshop,
    Auditor,
    Stranger,
}

impl From<For> for Whom {
    fn from(whom: For) -> Self {
        match whom {
            For::Workshop => Whom::Workshop,
            For::Auditor => Whom::Auditor,
            For::Stranger => Whom::Stranger,
        }
    }
}

pub fn run(args: &Args, context: &Context) -> Exit {
    match packed(args) {
        Ok(packed) => {
            context.report(&packed.problems);
            let exit = if has_errors(&packed.problems) { Exit::NotMet } else { Exit::Well };
            if context.json() {
                context.out_json(&json!({
                    "schema": SCHEMA, "ok": exit == Exit::Well, "file": args.out, "files": packed.files, "bytes": packed.bytes,
                    "book_lines": packed.entered, "closed": packed.closed,
                    "texts": packed.texts.0, "texts_left_out": packed.texts.1, "texts_open": packed.open,
                    "evidence_left_out": packed.evidence_left_out, "problems": problems_json(&packed.problems),
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
    standpipe_pack::pack(&folder_of(&args.job)?, &args.out, args.whom.into())
}

fn text(args: &Args, packed: &Packed) -> String {
    let mut text = format!("{}: {}, {} bytes\n", args.out.display(), count(packed.files, "file"), packed.bytes);
    if let Some(lines) = packed.entered {
        text.push_str(&format!("with {} of the book beside the job\n", count(lines, "line")));
    }
    let (texts, left_out) = packed.texts;
    if left_out > 0 {
        text.push_str(&format!(
            "{left_out} of {} of people are left out\n",
            count((texts + left_out) as usize, "text")
        ));
    }
    if packed.evidence_left_out > 0 {
        text.push_str(&format!("{} of evidence left out\n", count(packed.evidence_left_out, "file")));
    }
    if !packed.open.is_empty() {
        text.push_str(&format!("something is worked out with these texts, so they stay: {}\n", packed.open.join(", ")));
    }
    if !packed.closed {
        text.push_str("the job is not closed: what comes after is not in it\n");
    }
    text
}
