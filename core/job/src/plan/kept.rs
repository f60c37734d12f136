//! The plan that a job was begun with, built again from the texts it kept.

use super::{Inputs, Plan, Snapshot, build, sha256};
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
    let snapshot = snapshot_of(text, name)?;
    let mut problems = Problems::new();
    let mut plan = build(Inputs::of_snapshot(&snapshot), &mut problems).ok_or(problems)?;
    // The snapshot is what was kept, whatever this version would have kept.
    plan.hash = sha256(text.as_bytes());
    plan.snapshot = snapshot;
    Ok(plan)
}
