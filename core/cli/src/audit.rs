//! `audit`: replays journals and says what of them does not hold.

use serde_json::json;

use super::Exit;
use super::args::{Audit, Format};
use super::context::Context;
use super::job_folder::journals;
use standpipe_audit::{Asked, Audited, Verdict, audit_all};
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors, json as problems_json};
use standpipe_library::{Files, Layer};
use standpipe_report as render;

const SCHEMA: &str = "standpipe.audit/1";

pub fn run(args: &Audit, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let folders = journals(&args.paths, &mut problems);
    let seal = args.seal.as_deref().and_then(|seal| seal_of(seal, folders.len(), &mut problems));
    let against = args.against.as_deref().map(|folder| {
        let mut files = Files::default();
        files.add_folder(folder, Layer::Given(1), &mut problems);
        files
    });
    if has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    let audited = audit_all(&folders, &Asked { seal, against });
    let holds = audited.iter().all(|journal| journal.verdict != Verdict::DoesNotHold);
    let exit = match holds {
        _ if audited.iter().any(|journal| journal.defect) => Exit::Defect,
        true => Exit::Well,
        false => Exit::NotMet,
    };
    context.report(&problems);
    match context.common.format {
        Format::Json => context.out_json(&json!({
            "schema": SCHEMA, "ok": exit == Exit::Well, "journals": audited, "problems": problems_json(&problems),
            "against": args.against,
        })),
        Format::Csv => context.out(&render::audit::table(&audited)),
        Format::Junit => context.out(&render::audit::report(&audited)),
        _ => context.out(&text(&audited, args, context)),
    }
    exit
}

fn text(audited: &[Audited], args: &Audit, context: &Context) -> String {
    let mut text = render::audit::text(audited, context.width(), context.color_out());
    if let Some(against) = &args.against {
        text.push('\n');
        text.push_str(&render::audit::rechecks(audited, &against.display().to_string(), context.width()));
    }
    text
}

/// A seal may have been typed from paper: spaces and capitals do not matter.
fn seal_of(typed: &str, journals: usize, problems: &mut Problems) -> Option<String> {
    let seal: String = typed.split_whitespace().collect::<String>().to_lowercase();
    let argument = standpipe_job::plan::typed("<argument --seal>", typed);
    if journals > 1 {
        problems.push(
            Diagnostic::error(Code::BrokenJournal, &argument.place, format!("one seal, and {journals} journals"))
                .expected("the journal that was sealed")
                .help("name its folder alone"),
        );
        return None;
    }
    if seal.len() != 64 || !seal.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        problems.push(
            Diagnostic::error(Code::BrokenJournal, &argument.place, "this is no seal")
                .label(format!("found {} characters", seal.chars().count()))
                .expected("64 digits from 0 to 9 and a to f, as the record of the closed job prints them")
                .help("copy all of it"),
        );
        return None;
    }
    Some(seal)
}
