//! The texts that a simulation runs on: some values are others, some parts are left out.

use super::{Simulate, Stand};
use standpipe_diagnostic::Problems;
use standpipe_job::plan::{Plan, typed};
use standpipe_library::Files;
use standpipe_simulate::set::set;
use standpipe_simulate::without::{Part, without};

/// The texts, and what was left out of them.
pub fn texts(args: &Simulate, stand: &Stand, problems: &mut Problems) -> Option<(Files, Vec<(String, Part)>)> {
    let mut files = stand.files.clone();
    let family = stand.family.split('/').next().unwrap_or_default();
    for setting in &args.set {
        match set(&files, family, &typed("--set", setting)) {
            Ok(other) => files = other,
            Err(problem) => {
                problems.push(*problem);
                return None;
            }
        }
    }
    let mut left_out = Vec::new();
    let parts = [(&args.without, Part::Gate), (&args.without_witness, Part::Witness), (&args.without_step, Part::Step)];
    for (ids, part) in parts {
        for id in ids {
            match without(&files, &typed("--without", id), part) {
                Ok(rest) => files = rest,
                Err(problem) => {
                    problems.push(*problem);
                    return None;
                }
            }
            left_out.push((id.clone(), part));
        }
    }
    if args.without_gates {
        let quiet = stand.plan(&files, None, &mut Problems::new());
        for (id, part) in quiet.map(|plan| parts_of(&plan)).unwrap_or_default() {
            if part == Part::Gate
                && let Ok(rest) = without(&files, &typed("--without-gates", &id), part)
            {
                files = rest;
                left_out.push((id, part));
            }
        }
    }
    Some((files, left_out))
}

/// Every gate and witness of a plan.
pub fn parts_of(plan: &Plan) -> Vec<(String, Part)> {
    let steps = plan.procedures.values().flat_map(|procedure| procedure.all_steps());
    let both = steps.flat_map(|step| {
        let gate = step.gate.as_ref().map(|_| (step.id.value.clone(), Part::Gate));
        gate.into_iter().chain(step.witness.as_ref().map(|_| (step.id.value.clone(), Part::Witness)))
    });
    both.collect()
}
