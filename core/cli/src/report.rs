//! `report`: the record of a job, finished or so far; or a table of many.

use std::path::Path;

use serde_json::json;

use super::Exit;
use super::args::{Format, Report, Whom};
use super::context::Context;
use super::defect::one_of_many;
use super::job_folder::{about, defect, journals, look_at};
use super::sign::listed;
use standpipe_audit::Asked;
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use standpipe_job::plan::Kept;
use standpipe_job::{Hold, OpenJob};
use standpipe_pack::Copy;
use standpipe_report::record::{self, Checked};
use standpipe_report::{RecordData, customer, page};

const SCHEMA: &str = "standpipe.report/1";

pub fn run(args: &Report, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let asked = Asked { signers: listed(args.signers.as_deref(), &mut problems), ..Asked::default() };
    if has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    context.report(&problems);
    if args.whom == Whom::Customer
        && let Err(fault) = context.suits(&[Format::Human, Format::Html])
    {
        context.failed(SCHEMA, &[*fault]);
        return Exit::Usage;
    }
    if context.common.format == Format::Csv && !matches!(args.whom, Whom::Workshop | Whom::Customer) {
        let problem = about(&args.journals[0], Code::WrongArguments, "a table of jobs is for the workshop");
        context.failed(SCHEMA, &[problem.help("leave `--for` out, or ask for one record")]);
        return Exit::Usage;
    }
    if context.common.format == Format::Csv {
        return table(args, &asked, context);
    }
    let [path] = args.journals.as_slice() else {
        let problem = about(&args.journals[1], Code::WrongArguments, "one journal has one record");
        context.failed(SCHEMA, &[problem.help("name one journal, or ask for a table of all with `--format csv`")]);
        return Exit::Usage;
    };
    let copy = match copy(path, args.whom) {
        Ok(copy) => copy,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let path = copy.as_ref().map_or(path, |copy| &copy.file);
    let looked = match look_at(path) {
        Ok(looked) => looked,
        Err(fault) => {
            context.failed(SCHEMA, &[*fault]);
            return Exit::Usage;
        }
    };
    let job = match OpenJob::open(&looked.folder, Hold::Look) {
        Ok(job) => job,
        Err(problems) => {
            context.failed(SCHEMA, &looked.named(problems));
            return Exit::Usage;
        }
    };
    let problems = looked.named(job.problems().clone());
    context.report(&problems);
    let audited = standpipe_audit::audit(path, &asked, &mut Kept::default());
    let view = record::view(job.machine(), job.records(), Some(&job.seal()), Some(&looked.folder)).checked(&audited);
    // A broken chain is shown as far as it holds, and never as well.
    let fails = has_errors(&problems) || view.checked.as_ref().is_some_and(Checked::does_not_hold);
    let exit = if fails { Exit::NotMet } else { Exit::Well };
    if args.whom == Whom::Customer {
        let view = customer::view(&view, job.plan());
        match page::customer(&view).map(|page| (context.html(), page)) {
            Ok((true, page)) => context.out(&page),
            Ok((false, _)) => context.out(&customer::text(&view, context.width(), context.color_out())),
            Err(fault) => {
                context.note(&fault.to_string());
                return Exit::Defect;
            }
        }
    } else if context.json() {
        let ok = exit == Exit::Well;
        let data = RecordData { schema: SCHEMA, ok, record: Some(view), problems: problems_json(&problems) };
        context.out_json(&json!(data));
    } else if context.html() {
        match page::record(&view) {
            Ok(page) => context.out(&page),
            Err(fault) => {
                context.note(&fault.to_string());
                return Exit::Defect;
            }
        }
    } else {
        context.out(&record::text(&view, context.width(), context.color_out()));
    }
    exit
}

/// The job as somebody else would get it, where that is asked: nothing that was left out of it can be in what is drawn of it.
fn copy(path: &Path, whom: Whom) -> Result<Option<Copy>, Box<Diagnostic>> {
    let whom = match whom {
        Whom::Workshop | Whom::Customer => return Ok(None),
        Whom::Auditor => standpipe_pack::Whom::Auditor,
        Whom::Stranger => standpipe_pack::Whom::Stranger,
    };
    let looked = look_at(path)?;
    Copy::of(&looked.folder, whom).map(Some)
}

fn table(args: &Report, asked: &Asked, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let folders = journals(&args.journals, &mut problems);
    if has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    let mut records = Vec::new();
    let audited = standpipe_audit::audit_all(&folders, asked, &|_| {});
    for (folder, audited) in folders.iter().zip(&audited) {
        // One that can't be read hides no other.
        let read = one_of_many(|| {
            let looked = look_at(folder).map_err(|problem| vec![*problem])?;
            let job = OpenJob::open(&looked.folder, Hold::Look).map_err(|problems| looked.named(problems))?;
            let view = record::view(job.machine(), job.records(), Some(&job.seal()), None).checked(audited);
            Ok((view, job.plan().units.clone(), looked.named(job.problems().clone())))
        });
        match read.unwrap_or_else(|| Err(vec![defect(folder)])) {
            Err(faults) => problems.extend(faults),
            Ok((view, units, found)) => {
                problems.extend(found);
                records.push((view, units));
            }
        }
    }
    context.report(&problems);
    context.out(&record::table(&records));
    let fails = records.iter().filter_map(|(view, _)| view.checked.as_ref()).any(Checked::does_not_hold);
    if fails || has_errors(&problems) { Exit::NotMet } else { Exit::Well }
}
