//! `audit ARCHIVE --against`: which jobs of an archive would no longer meet what, without their journals.

use super::SCHEMA;
use crate::Exit;
use crate::args::Audit;
use crate::context::Context;
use crate::job_folder::about;
use standpipe_archive::LIST;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

pub fn run(args: &Audit, context: &Context) -> Exit {
    let mut problems: Problems = refused(args).into_iter().collect();
    if problems.is_empty() {
        #[cfg(feature = "archive")]
        if let Some(exit) = judged::run(args, context, &mut problems) {
            return exit;
        }
        #[cfg(not(feature = "archive"))]
        problems.push(
            about(&args.paths[0], Code::WrongArguments, "this build of standpipe reads no columns")
                .help("build it with `cargo build --release --features archive`"),
        );
    }
    context.failed(SCHEMA, &problems);
    Exit::Usage
}

/// An archive has no chain, no seal and no signature.
fn refused(args: &Audit) -> Option<Diagnostic> {
    let archive = args.paths.iter().find(|path| path.join(LIST).is_file())?;
    let say = |message: &str| {
        about(archive, Code::WrongArguments, format!("`{}` is an archive: {message}", archive.display()))
    };
    if args.paths.len() > 1 {
        return Some(say("it is asked by itself").help("name it alone"));
    }
    let other = args.seal.is_some() || args.book.is_some() || args.signers.is_some() || args.authority.is_some();
    if other || args.instrument.is_some() || args.against.is_none() {
        let problem = say("nothing in it can be audited, and `--against DIR` is all it can be asked here");
        return Some(problem.help("the journals are the evidence: name the folder that they are in"));
    }
    None
}

#[cfg(feature = "archive")]
mod judged {
    use std::path::Path;

    use serde_json::json;

    use super::super::newer;
    use super::*;
    use crate::args::Format;
    use crate::no_job::without_job;
    use standpipe_archive::{Judged, Wanted, against};
    use standpipe_audit::{Verdict, not_built};
    use standpipe_diagnostic::columns::wrap;
    use standpipe_diagnostic::{has_errors, json as problems_json};
    use standpipe_job::plan::{Inputs, Parsed, Plan, build, replaced};
    use standpipe_library::{Files, Shop};
    use standpipe_report::{self as render, count};

    /// `None` where nothing could be asked.
    pub fn run(args: &Audit, context: &Context, problems: &mut Problems) -> Option<Exit> {
        let folder = args.against.as_deref()?;
        let newer = newer(folder, problems);
        let (with_shop, shop) = context.files(None, problems);
        let (plain, _) = context.files_with(&[], None, problems);
        let units = Parsed::new(with_shop.clone(), &mut Problems::new()).units;
        let id = shop.as_ref().and_then(|source| Shop::read(source, &units, problems)).map(|shop| shop.id);
        if has_errors(problems) {
            return None;
        }
        let nothing = Files::default();
        let built = |wanted: &Wanted, newer: &Files| -> Result<Plan, String> {
            let of = match &wanted.variant {
                Some(variant) => format!("{}/{variant}", wanted.family),
                None => wanted.family.clone(),
            };
            let (files, shop) = if wanted.with_shop { (&with_shop, shop.clone()) } else { (&plain, None) };
            let files = replaced(files, newer);
            let mut problems = Problems::new();
            let parsed = Parsed::new(files.clone(), &mut Problems::new());
            let job = without_job(&of, Some(&wanted.procedure), &parsed, &mut problems);
            let plan = job.and_then(|job| build(Inputs::new(job, shop, files), &mut problems));
            plan.ok_or_else(|| not_built(&problems))
        };
        let plan = |wanted: &Wanted| Ok((built(wanted, &newer)?, built(wanted, &nothing).ok()));
        let mut judged = match against(&args.paths[0], id.as_deref(), &plan) {
            Ok(judged) => judged,
            Err(problem) => {
                problems.push(*problem);
                return None;
            }
        };
        problems.append(&mut judged.problems);
        let missed = judged.found.iter().any(|job| job.verdict == Verdict::DoesNotHold);
        let exit = if missed || has_errors(problems) { Exit::NotMet } else { Exit::Well };
        context.report(problems);
        match context.common.format {
            Format::Json => context.out_json(&json!({
                "schema": SCHEMA, "ok": exit == Exit::Well, "journals": judged.found,
                "archived": {
                    "finished": judged.finished, "others": judged.others, "without_shop": judged.without_shop,
                },
                "problems": problems_json(problems), "against": folder,
            })),
            Format::Csv => context.out(&render::audit::table(&judged.found)),
            Format::Junit => context.out(&render::audit::report(&judged.found)),
            _ => context.out(&text(&judged, folder, context.width())),
        }
        Some(exit)
    }

    fn text(judged: &Judged, folder: &Path, width: usize) -> String {
        let size = |number: u64| usize::try_from(number).unwrap_or(usize::MAX);
        let question = render::audit::Question::Archive(folder.display().to_string(), size(judged.finished));
        let mut text = render::audit::rechecks(&judged.found, &question, width);
        text.push('\n');
        let mut say = |line: &str| wrap(line, width).iter().for_each(|line| text.push_str(&format!("{line}\n")));
        if judged.without_shop > 0 {
            let jobs = count(size(judged.without_shop), "job");
            say(&format!("Judged without what their shop lays over the data, whose file `--shop` names: {jobs}."));
        }
        if judged.others > 0 {
            say(&format!("Not finished, and so not judged: {}.", count(size(judged.others), "job")));
        }
        say("An archive is no evidence: the journals of these jobs are.");
        text
    }
}
