//! `new case`: a worked example made of a real job, run at once to see whether it holds.

use serde_json::json;

use super::folder::{Folder, titled};
use super::{Fault, SCHEMA};
use crate::Exit;
use crate::args::{NewCase, Test};
use crate::context::Context;
use crate::job_folder::{about, folder_of};
use crate::target::Targets;
use crate::test::{Results, human};
use standpipe_check::case::Report;
use standpipe_check::case::made::{Made, make};
use standpipe_diagnostic::columns::hang;
use standpipe_diagnostic::{Code, Problems, has_errors};
use standpipe_job::{Hold, OpenJob};
use standpipe_library::{Kind, STANDARD};

pub fn run(args: &NewCase, context: &Context) -> Exit {
    match written(args, context) {
        Ok((folder, made)) => tried(args, &folder, &made, context),
        Err(problems) => {
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

fn written(args: &NewCase, context: &Context) -> Result<(Folder, Made), Problems> {
    let one = |fault: Fault| vec![*fault];
    let journal = folder_of(&args.from).map_err(one)?;
    let job = OpenJob::open(&journal, Hold::Look)?;
    context.report(job.problems());
    if has_errors(job.problems()) {
        let problem =
            about(&args.from, Code::BrokenJournal, "a journal that does not hold tells nothing that could be expected");
        return Err(vec![problem.help("`standpipe audit` says what is wrong with it")]);
    }
    let made = make(&args.id, job.machine(), job.records(), job.ends()).map_err(|why| {
        vec![about(&args.from, Code::BrokenJournal, format!("no case can be made of this job: {why}"))]
    })?;
    let mut folder = Folder::new(&args.id, args.into.as_deref()).map_err(one)?;
    let mut needs: Vec<&str> = job.plan().snapshot.files.list.iter().map(|file| file.plugin.as_str()).collect();
    needs.sort_unstable();
    needs.dedup();
    needs.retain(|id| *id != STANDARD && *id != folder.id);
    let files: Vec<_> = made.files.iter().map(|(name, text)| (Kind::Case, name.clone(), text.clone())).collect();
    folder.write_named(&titled(&args.id), &needs, &files).map_err(one)?;
    Ok((folder, made))
}

/// The case may not hold: the data in force may be others than those of the job.
fn tried(args: &NewCase, folder: &Folder, made: &Made, context: &Context) -> Exit {
    let test = Test {
        paths: vec![folder.path.clone()],
        filter: Some(format!("{}/{}", folder.id, args.id)),
        verbose: false,
        coverage: false,
        strict: false,
    };
    let mut problems = Problems::new();
    let targets = Targets::find(&test.paths, &mut problems);
    let mut results = Results::of(&test, &targets, context);
    results.reports.retain(|report| report.case == args.id);
    results.left_out = 0;
    // What is wrong with other cases is no news here, but a plugin that can't be taken is.
    let cases = format!("{}/{}/", folder.id, Kind::Case.folder());
    results.problems.retain(|problem| {
        let name = problem.place.name();
        problem.is_error() && (name.contains(&cases) || name.ends_with("plugin.yaml"))
    });
    let holds = results.reports.len() == 1 && results.reports.iter().all(Report::holds) && results.problems.is_empty();
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": holds, "files": folder.written(), "holds": holds,
            "kept": made.kept.iter().map(|(name, text)| json!({ "name": name, "text": text })).collect::<Vec<_>>(),
            "problems": standpipe_diagnostic::json(&results.problems),
        }));
    } else {
        for file in folder.written() {
            context.out(&format!("wrote {}\n", file.display()));
        }
        let kept: Vec<String> = made.kept.iter().map(|(name, text)| format!("{name} \"{text}\"")).collect();
        if !kept.is_empty() {
            let text = format!("{}; a gate or a calculation looks at them", kept.join("; "));
            let lines = hang("texts that stay: ", &text, context.width());
            lines.iter().for_each(|line| context.out(&format!("{line}\n")));
        }
        context.report(&results.problems);
        context.out(&human::text(&results, &test, context.color_out()));
    }
    if holds { Exit::Well } else { Exit::NotMet }
}
