//! What happened last in a job, a line for each thing that somebody did.

use serde::Serialize;

use standpipe_drivers::setting::Setting;
use standpipe_job::{Address, Event, Moment, OpenJob, Record};
use standpipe_quantity::value::Value;

/// As many as somebody who comes late may want to see.
const MOST: usize = 40;

#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Happened {
    /// Number of its event.
    pub seq: u64,
    pub at: Moment,
    /// Name of who did it.
    pub by: String,
    /// What was done, and what was said with it.
    pub what: String,
    pub said: String,
    /// An entry that answers what was asked.
    pub entry: bool,
}

/// The newest last.
pub fn happened(job: &OpenJob, setting: &Setting<'_>) -> Vec<Happened> {
    let lines = job.records().iter().rev().filter_map(|record| {
        let (what, said) = told(job, setting, record)?;
        let entry = matches!(record.event, Event::Entered { .. });
        Some(Happened { seq: record.seq, at: record.at, by: setting.name_of(&record.by), what, said, entry })
    });
    let mut lines: Vec<Happened> = lines.take(MOST).collect();
    lines.reverse();
    lines
}

fn told(job: &OpenJob, setting: &Setting<'_>, record: &Record) -> Option<(String, String)> {
    let title = |address: &Address| setting.title_at(job.state(), address);
    let procedure = |id: &String| job.plan().procedure(id).map_or_else(|| id.clone(), |known| known.title.clone());
    Some(match &record.event {
        Event::Opened { .. } => ("Begun".to_owned(), String::new()),
        Event::Entered { address, values, done, .. } => {
            let shown = |(name, value): (&String, &Value)| match value {
                Value::Text(text) => setting.name_of(text),
                value => format!("{} {}", name.replace('_', " "), job.plan().show(value)),
            };
            let mut said: Vec<String> = values.iter().map(shown).collect();
            if !done {
                said.push("asked again".to_owned());
            }
            (title(address), said.join(", "))
        }
        Event::Corrected { entry, typed, because, .. } => {
            let values: Vec<&str> = typed.values().map(String::as_str).collect();
            (format!("Entry {entry} corrected"), format!("{}: {because}", values.join(", ")))
        }
        Event::Accepted { address, because } => (format!("Accepted: {}", title(address)), because.clone()),
        Event::Skipped { address, because } => (format!("Left out: {}", title(address)), because.clone()),
        Event::Supplied { path, typed, source, .. } => (format!("Supplied: {path}"), format!("{typed}, from {source}")),
        Event::Called { procedure: id, .. } => ("Called".to_owned(), procedure(id)),
        Event::TakenBack { procedure: id, .. } => ("Called by mistake".to_owned(), procedure(id)),
        Event::Pausing { .. } => ("Pause".to_owned(), String::new()),
        Event::Resumed { .. } => ("Looked at and resumed".to_owned(), String::new()),
        Event::TookOver { from } => ("Taken over".to_owned(), format!("from {}", setting.name_of(from))),
        Event::Noted { text, .. } => ("Note".to_owned(), text.clone()),
        Event::Attached { evidence, .. } => ("Attached".to_owned(), evidence.name.clone()),
        Event::Abandoned { because, .. } => ("Ended unfinished".to_owned(), because.clone()),
        Event::Finished => ("Finished".to_owned(), String::new()),
        _ => return None,
    })
}
