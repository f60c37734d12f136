//! The plan that a job was begun with, built again from the texts it kept.

use std::collections::VecDeque;

use super::build::{like, parts};
use super::{Inputs, Plan, Snapshot, sha256};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// What the text of a kept plan says. `name`: what to call the file in a message.
pub fn snapshot_of(text: &str, name: &str) -> Result<Snapshot, Problems> {
    serde_json::from_str(text).map_err(|fault| {
        let place = Place::whole(&Source::new(name, ""));
        vec![
            Diagnostic::error(Code::BrokenJournal, &place, format!("the plan can't be read: {fault}"))
                .expected("a plan as this program writes it"),
        ]
    })
}

/// The plan of a snapshot, under the hash of the text that was kept.
pub fn kept(text: &str, name: &str) -> Result<Plan, Problems> {
    Kept::default().plan(text, name)
}

/// Builds the plans of many jobs. What they have in common is built once for those that have the same texts.
#[derive(Default)]
pub struct Kept(VecDeque<Plan>);

/// A shop has a few procedures and families in hand at a time; each takes some megabytes.
const MOST: usize = 8;

impl Kept {
    /// As [`kept`].
    pub fn plan(&mut self, text: &str, name: &str) -> Result<Plan, Problems> {
        let snapshot = snapshot_of(text, name)?;
        let like = self.0.iter().find_map(|known| like(known, &snapshot));
        let (parts, is_new) = match like {
            Some(parts) => (parts, false),
            None => {
                let mut problems = Problems::new();
                (parts(Inputs::of_snapshot(&snapshot), &mut problems).ok_or(problems)?, true)
            }
        };
        // The snapshot is what was kept, whatever this version would have kept.
        let plan = parts.plan(snapshot, sha256(text.as_bytes()));
        if is_new {
            self.0.truncate(MOST - 1);
            self.0.push_front(plan.clone());
        }
        Ok(plan)
    }
}
