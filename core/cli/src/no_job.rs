//! What a command needs that is asked of a family and not of a job.

use std::sync::Arc;

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::Form;
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::Kind;

/// A job file for a family that has no job yet: every fact of the job is unknown.
///
/// `of`: `FAMILY` or `FAMILY/VARIANT`.
pub fn without_job(of: &str, procedure: Option<&str>, parsed: &Parsed, problems: &mut Problems) -> Option<Arc<Source>> {
    let (family, variant) = match of.split_once('/') {
        Some((family, variant)) => (family, Some(variant)),
        None => (of, None),
    };
    let id = typed("<FAMILY>", family);
    let (form, known) = parsed.family(&id, problems)?;
    let procedure = match procedure {
        Some(procedure) => procedure.to_owned(),
        None => match parsed.procedures_for(&known.form).as_slice() {
            [only] => only.clone(),
            several => {
                let at = typed("<FAMILY>", of);
                problems.push(
                    Diagnostic::error(Code::WrongArguments, &at.place, "which procedure?")
                        .expected(if several.is_empty() {
                            let all: Vec<&str> = parsed
                                .library
                                .documents(Kind::Procedure)
                                .map(|document| document.id.as_str())
                                .collect();
                            all.join(", ")
                        } else {
                            several.join(", ")
                        })
                        .help("add `--procedure ID`"),
                );
                return None;
            }
        },
    };
    let mut text = format!("job: card\nfamily: {family}\nprocedure: {procedure}\n");
    if let Some(variant) = variant {
        text.push_str(&format!("variant: {variant}\n"));
    }
    text.push_str(&unknown_facts(&form));
    Some(Source::new("<card>", text))
}

fn unknown_facts(form: &Form) -> String {
    let mut text = String::new();
    let mut group = "";
    for path in form.job.keys() {
        match path.split_once('.') {
            Some((first, rest)) => {
                if first != group {
                    text.push_str(&format!("{first}:\n"));
                    group = first;
                }
                text.push_str(&format!("  {rest}: unknown\n"));
            }
            None => text.push_str(&format!("{path}: unknown\n")),
        }
    }
    text
}
