//! The plan that a job was begun with, built again from the texts it kept.

use std::collections::VecDeque;
use std::fmt::Display;
use std::path::Path;

use super::build::{like, parts};
use super::{Inputs, Plan, PlanText, Snapshot, sha256};
use crate::edition;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

fn broken(name: &str, fault: impl Display) -> Problems {
    let place = Place::whole(&Source::new(name, ""));
    let problem = Diagnostic::error(Code::BrokenJournal, &place, format!("the plan can't be read: {fault}"));
    vec![problem.expected("a plan as this program writes it")]
}

/// What the text of a kept plan says, without its files. `name`: what to call the file in a message.
pub fn facts_of(text: &str, name: &str) -> Result<Snapshot, Problems> {
    edition::refuse_newer_plan(text, Path::new(name)).map_err(|problem| vec![*problem])?;
    let snapshot: Snapshot = serde_json::from_str(text).map_err(|fault| broken(name, fault))?;
    let known = edition::is_plan(&snapshot.schema);
    if !known || (snapshot.language, snapshot.scripts) != (edition::LANGUAGE, edition::SCRIPTS) {
        return Err(broken(name, format!("there never was a format `{}` of these editions", snapshot.schema)));
    }
    Ok(snapshot)
}

/// Not understood, so that what stands there would be lost: under an edition that is known every key is.
const LOST: &[Code] = &[
    Code::InvalidYaml,
    Code::DuplicateKey,
    Code::UnknownKey,
    Code::MissingKey,
    Code::WrongShape,
    Code::TagOrAnchor,
    Code::UnknownOption,
];

/// The plan of a snapshot, under the hash of the text that was kept.
pub fn kept(text: &PlanText, name: &str) -> Result<Plan, Problems> {
    Kept::default().plan(text, name)
}

/// Builds the plans of many jobs. What they have in common is built once for those that have the same texts.
#[derive(Default)]
pub struct Kept(VecDeque<Plan>);

/// A shop has a few procedures and families in hand at a time; each takes some megabytes.
const MOST: usize = 8;

impl Kept {
    /// As [`kept`].
    pub fn plan(&mut self, text: &PlanText, name: &str) -> Result<Plan, Problems> {
        let mut snapshot = facts_of(&text.plan, name)?;
        snapshot.open(&text.opening).map_err(|fault| broken(name, fault))?;
        let texts = text.texts.as_ref().map_err(|problem| vec![(**problem).clone()])?;
        let like = self.0.iter().find_map(|known| Some((like(known, &snapshot)?, known.snapshot.files.clone())));
        let (parts, is_new) = match like {
            Some((parts, files)) => {
                snapshot.files = files;
                (parts, false)
            }
            None => {
                if sha256(texts.as_bytes()) != snapshot.texts {
                    return Err(broken(name, "it is built from other texts"));
                }
                snapshot.files = serde_json::from_str(texts).map_err(|fault| broken(name, fault))?;
                let mut problems = Problems::new();
                let built = parts(Inputs::of_snapshot(&snapshot), &mut problems);
                // What a check has to say that is newer than the plan shows where the job meets it; a lost text shows nowhere.
                if problems.iter().any(|problem| problem.is_error() && LOST.contains(&problem.code)) {
                    problems.retain(|problem| LOST.contains(&problem.code));
                    return Err(problems);
                }
                (built.ok_or(problems)?, true)
            }
        };
        // The snapshot is what was kept, whatever this version would have kept.
        let plan = parts.plan(snapshot, sha256(text.plan.as_bytes()));
        if is_new {
            self.0.truncate(MOST - 1);
            self.0.push_front(plan.clone());
        }
        Ok(plan)
    }
}
