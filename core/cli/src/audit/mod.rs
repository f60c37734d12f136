//! `audit`: replays journals and says what of them does not hold.

mod archived;
mod worker;

use std::io::BufReader;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use indexmap::IndexSet;
use serde_json::json;

use super::Exit;
use super::args::{Audit, Format};
use super::context::Context;
use super::job_folder::{about, journals};
use super::progress::Progress;
use super::sign::listed;
use standpipe_archive::LIST;
use standpipe_audit::{Asked, Audited, Books, Recall, Verdict, audit_all, missing, stamped};
use standpipe_diagnostic::{Code, Diagnostic, Problems, Severity, has_errors, json as problems_json};
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{Files, Layer};
use standpipe_report as render;

const SCHEMA: &str = "standpipe.audit/1";

pub fn run(args: &Audit, context: &Context) -> Exit {
    let mut problems = Problems::new();
    if args.paths.iter().any(|path| path.join(LIST).is_file()) {
        return archived::run(args, context);
    }
    let mut gone = Problems::new();
    let folders = journals(&args.paths, &mut gone);
    if folders.is_empty() {
        problems.append(&mut gone);
    }
    let seal = args.seal.as_deref().and_then(|seal| seal_of(seal, folders.len(), &mut problems));
    let against = args.against.as_deref().map(|folder| newer(folder, &mut problems));
    let recall = args.instrument.as_deref().zip(args.off.as_deref());
    let recall = recall.and_then(|(instrument, off)| recall_of(instrument, off, args, context, &mut problems));
    let signers = listed(args.signers.as_deref(), &mut problems);
    if has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    let asked = Asked { seal, against, recall, books: Books::default(), printed: args.book.clone(), signers };
    if let Some(from) = &args.files_from {
        context.report(&problems);
        let mut known = IndexSet::new();
        let exit = from_lines(from, &asked, context, &mut known);
        let problem = args.instrument.as_deref().and_then(|id| unknown(id, &known));
        let warning = problem.map(|problem| Diagnostic { severity: Severity::Warning, ..problem });
        context.report(&warning.into_iter().collect::<Problems>());
        return exit;
    }
    let progress = Mutex::new(Progress::of_jobs(folders.len()));
    let tell = |done: usize| {
        if let Ok(mut progress) = progress.try_lock() {
            progress.tell(done as u64, done as u64);
        }
    };
    let mut audited = audit_all(&folders, &asked, &tell);
    progress.into_inner().unwrap_or_else(PoisonError::into_inner).end();
    let known = audited.iter().flat_map(|journal| journal.instruments.iter().cloned()).collect();
    problems.extend(args.instrument.as_deref().and_then(|id| unknown(id, &known)));
    if has_errors(&problems) {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    }
    audited.extend(missing(&args.paths, args.book.as_deref()));
    audited.extend(stamped(&args.paths, args.authority.as_deref()));
    let holds = audited.iter().all(|journal| journal.verdict != Verdict::DoesNotHold);
    let exit = match holds {
        _ if audited.iter().any(|journal| journal.defect) => Exit::Defect,
        true if !has_errors(&gone) => Exit::Well,
        _ => Exit::NotMet,
    };
    problems.append(&mut gone);
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

/// Plugins to judge old entries under.
fn newer(folder: &Path, problems: &mut Problems) -> Files {
    let mut files = Files::default();
    files.add_folder(folder, Layer::Given(1), problems);
    files
}

/// Lines of a file, or of the standard input for `-`.
fn from_lines(from: &Path, asked: &Asked, context: &Context, known: &mut IndexSet<String>) -> Exit {
    let mut out = std::io::stdout().lock();
    if from == Path::new("-") {
        return worker::run(&mut std::io::stdin().lock(), &mut out, asked, known);
    }
    match standpipe_disk::stream(from) {
        Ok(file) => worker::run(&mut BufReader::new(file), &mut out, asked, known),
        Err(fault) => {
            context.failed(SCHEMA, &[about(from, Code::UnreadableFile, fault.to_string())]);
            Exit::Usage
        }
    }
}

fn text(audited: &[Audited], args: &Audit, context: &Context) -> String {
    let mut text = render::audit::text(audited, context.width(), context.color_out());
    text.push_str(&render::audit::anchors(audited, context.width()));
    if args.signers.is_some() {
        text.push_str(&render::audit::acts(audited, context.width()));
    }
    let asked = match (&args.against, args.instrument.as_deref().zip(args.off.as_deref())) {
        (Some(against), _) => render::audit::Question::Data(against.display().to_string()),
        (_, Some((instrument, off))) => render::audit::Question::Instrument(format!("`{instrument}` were {off} off")),
        _ => return text,
    };
    text.push('\n');
    text.push_str(&render::audit::rechecks(audited, &asked, context.width()));
    text
}

/// An instrument that no journal knows: nothing that was found would be about it. Journals that tell of none say nothing of it.
fn unknown(instrument: &str, known: &IndexSet<String>) -> Option<Diagnostic> {
    if known.is_empty() || known.contains(instrument) {
        return None;
    }
    let at = typed("--instrument", instrument);
    let message = format!("no shop of these jobs has an instrument `{instrument}`, and nothing was read from one");
    let list = known.iter().map(String::as_str).collect::<Vec<_>>().join(", ");
    let problem = Diagnostic::error(Code::UnknownReference, &at.place, message);
    Some(problem.nearest(instrument, known.iter().map(String::as_str), list))
}

/// What is asked of an instrument. It is looked for in the journals: a tool long gone stands in old ones only.
fn recall_of(instrument: &str, off: &str, args: &Audit, context: &Context, problems: &mut Problems) -> Option<Recall> {
    let (files, _) = context.files(None, problems);
    let units = Parsed::new(files, problems).units;
    match Recall::read(instrument, off, args.since, &units) {
        Ok(recall) => Some(recall),
        Err(message) => {
            let at = typed("--off", off);
            problems.push(
                Diagnostic::error(Code::WrongArguments, &at.place, message)
                    .expected("such as `+8 %`, `-2 K` or, for either way, `0.1 L`"),
            );
            None
        }
    }
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
            Diagnostic::error(Code::BrokenJournal, &argument.place, "this is not a seal")
                .label(format!("found {} characters", seal.chars().count()))
                .expected("64 digits from 0 to 9 and a to f, as the record of the closed job prints them")
                .help("copy all of it"),
        );
        return None;
    }
    Some(seal)
}
