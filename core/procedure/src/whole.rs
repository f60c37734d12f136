//! What can be seen of a procedure once all its steps are checked.

use indexmap::IndexMap;

use super::model::{Otherwise, Procedure, Step};
use super::step::{Children, Next, Progress};
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

/// What a gate wants done once more has to come before it, at its own level: anything else is not due when it waits.
pub(super) fn done_again(steps: &[Step], problems: &mut Problems) {
    for (index, step) in steps.iter().enumerate() {
        if let Children::Steps(inner) = step.kind.children() {
            done_again(inner, problems);
        }
        let Some(Otherwise::Wait(anew)) = step.gate.as_ref().map(|gate| &gate.otherwise) else { continue };
        let before = || steps[..index].iter().map(|step| step.id.as_str());
        for id in anew.iter().filter(|id| !before().any(|before| before == id.as_str())) {
            let message =
                format!("no step `{}` before `{}` in its list that could be done again", id.value, step.id.value);
            problems.push(Diagnostic::error(Code::UnfitStep, &id.place, message).nearest(
                id,
                before(),
                "name a step that stands before this one, in the same list of steps",
            ));
        }
        let asked = matches!(step.kind.next(&Progress::default()), Next::Ask(_) | Next::Settle { .. });
        if let Some(first) = anew.first().filter(|_| !asked) {
            let message = format!("`{}` asks nothing, so it can't be asked again", step.id.value);
            problems.push(
                Diagnostic::error(Code::UnfitStep, &first.place, message)
                    .help("put the gate on the step whose answer decides it"),
            );
        }
    }
}
