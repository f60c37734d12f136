//! `report`: the record of a job, finished or so far.

use serde_json::json;

use super::Exit;
use super::args::Report;
use super::context::Context;
use super::job_folder::{folder_of, read};
use crate::diagnostic::{has_errors, json as problems_json};
use crate::render::{RecordData, page, record};

const SCHEMA: &str = "standpipe.report/1";

pub fn run(args: &Report, context: &Context) -> Exit {
    let folder = match folder_of(&args.journal) {
        Ok(folder) => folder,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let (machine, contents) = match read(&folder) {
        Ok(read) => read,
        Err(problems) => {
            context.failed(SCHEMA, &problems);
            return Exit::Usage;
        }
    };
    context.report(&contents.problems);
    let view = record::view(&machine, &contents.records, Some(&contents.seal));
    // A broken chain is shown as far as it holds, and never as well.
    let exit = if has_errors(&contents.problems) { Exit::NotMet } else { Exit::Well };
    if context.json() {
        let ok = exit == Exit::Well;
        let data = RecordData { schema: SCHEMA, ok, record: Some(view), problems: problems_json(&contents.problems) };
        context.out_json(&json!(data));
    } else if context.html() {
        context.out(&page::record(&view));
    } else {
        context.out(&record::text(&view, context.width(), context.color_out()));
    }
    exit
}
