//! The texts that a simulation runs on: some values are others, some parts are left out.

use crate::set::set;
use crate::without::{Part, without};
use standpipe_diagnostic::Problems;
use standpipe_job::plan::{Plan, typed};
use standpipe_library::Files;
use standpipe_yaml::At;

/// What is to be different from the texts as they are.
#[derive(Clone, Debug, Default)]
pub struct Changes {
    /// `PATH=VALUE`, as [`set`] takes them.
    pub set: Vec<At<String>>,
    /// Steps, and what of them is left out.
    pub without: Vec<(At<String>, Part)>,
    /// Every gate is.
    pub without_gates: bool,
}

impl Changes {
    /// No step is left out.
    pub fn keeps_steps(&self) -> bool {
        self.without.iter().all(|(_, part)| *part != Part::Step)
    }

    /// The texts, and what was left out of them. `plan`: what they come to.
    pub fn made_in(
        &self,
        files: &Files,
        family: &str,
        plan: impl Fn(&Files) -> Option<Plan>,
        problems: &mut Problems,
    ) -> Option<(Files, Vec<(String, Part)>)> {
        let mut files = files.clone();
        let family = family.split('/').next().unwrap_or_default();
        let mut left_out = Vec::new();
        let values = self.set.iter().map(|setting| (setting, None));
        for (text, part) in values.chain(self.without.iter().map(|(step, part)| (step, Some(*part)))) {
            let made = match part {
                None => set(&files, family, text),
                Some(part) => without(&files, text, part),
            };
            match made {
                Ok(other) => files = other,
                Err(problem) => {
                    problems.push(*problem);
                    return None;
                }
            }
            left_out.extend(part.map(|part| (text.value.clone(), part)));
        }
        if self.without_gates {
            for (id, part) in plan(&files).map(|plan| parts_of(&plan)).unwrap_or_default() {
                if part == Part::Gate
                    && let Ok(rest) = without(&files, &typed("<gate>", &id), part)
                {
                    files = rest;
                    left_out.push((id, part));
                }
            }
        }
        Some((files, left_out))
    }
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
