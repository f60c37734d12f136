//! The acts of a job that can be signed by key, and the lines that keep them.

use std::path::Path;

use sha2::{Digest, Sha256};
use standpipe_job::journal::{LARGEST_JOURNAL, LINES};
use standpipe_job::plan::Plan;
use standpipe_job::{Address, Event, Moment, Record, Witness};
use standpipe_library::Act;
use standpipe_procedure::FieldKind;
use standpipe_quantity::value::Value;

/// Something that somebody did, as a line of the journal keeps it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deed {
    /// Number of the event.
    pub line: u64,
    pub act: Act,
    pub by: String,
    /// When it was entered.
    pub at: Moment,
}

/// The acts that can be signed, in their order, of these events from this number on.
pub fn deeds(plan: &Plan, records: &[Record], since: u64) -> Vec<Deed> {
    let mut deeds = Vec::new();
    for record in records.iter().skip_while(|record| record.seq < since) {
        let at = record.entered_at.unwrap_or(record.at);
        let mut did = |act, by: &str| deeds.push(Deed { line: record.seq, act, by: by.to_owned(), at });
        match &record.event {
            Event::Entered { address, values, witness, done, .. } => {
                for (name, value) in values.iter().filter(|_| *done) {
                    if let (Value::Text(person), true) = (value, is_signature(plan, address, name)) {
                        did(Act::Sign, person);
                    }
                }
                if let Some(Witness::By(person)) = witness {
                    did(Act::Witness, person);
                }
            }
            // Who signed may turn out to have been somebody else.
            Event::Corrected { entry, values, .. } => {
                let entered = records.iter().find(|record| record.seq == *entry).map(|record| &record.event);
                let Some(Event::Entered { address, .. }) = entered else { continue };
                for (name, value) in values {
                    if let (Value::Text(person), true) = (value, is_signature(plan, address, name)) {
                        did(Act::Sign, person);
                    }
                }
            }
            Event::Accepted { .. } => did(Act::Accept, &record.by),
            Event::Amended { .. } => did(Act::Amend, &record.by),
            Event::Called { .. } => did(Act::Call, &record.by),
            Event::Finished | Event::Abandoned { .. } => did(Act::Close, &record.by),
            _ => {}
        }
    }
    deeds
}

fn is_signature(plan: &Plan, address: &Address, name: &str) -> bool {
    let fields = plan.step(&address.step).map(|step| step.kind.fields()).unwrap_or_default();
    fields.iter().any(|field| field.name.as_str() == name && matches!(field.kind, FieldKind::Signature(_)))
}

/// SHA-256 of each line of the journal in this folder, without its line feed: each covers all lines before it, and the plan.
pub fn heads(folder: &Path) -> std::io::Result<Vec<String>> {
    let bytes = standpipe_disk::bytes(&folder.join(LINES), LARGEST_JOURNAL)?;
    let lines = bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    Ok(lines.map(|line| format!("{:x}", Sha256::digest(line))).collect())
}
