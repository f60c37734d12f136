//! What can be seen of a procedure once all its steps are checked.

use indexmap::IndexMap;

use super::model::Procedure;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

pub(super) fn unknown_cautions(procedure: &Procedure, problems: &mut Problems) {
    for step in procedure.all_steps() {
        for caution in &step.caution {
            if procedure.cautions.contains_key(caution.as_str()) {
                continue;
            }
            let known = procedure.cautions.keys().map(String::as_str);
            problems.push(
                Diagnostic::error(Code::UnfitStep, &caution.place, format!("there is no caution `{}`", caution.value))
                    .expected("an id from `cautions:` of this procedure")
                    .nearest(caution, known, "add its text under `cautions:` at the top of the procedure"),
            );
        }
    }
}

pub(super) fn same_id(procedure: &Procedure, problems: &mut Problems) {
    let mut seen: IndexMap<&str, &Place> = IndexMap::new();
    for step in procedure.all_steps() {
        if let Some(first) = seen.get(step.id.as_str()) {
            problems.push(
                Diagnostic::error(Code::DuplicateStep, &step.id.place, format!("a second step `{}`", step.id.value))
                    .also(first, "the first one")
                    .help("give one of them another id; entries are kept under it"),
            );
        } else {
            seen.insert(step.id.as_str(), &step.id.place);
        }
    }
}
