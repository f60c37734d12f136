//! A log that a job kept, understood anew as it was when it was kept.

use std::io::Read;
use std::path::Path;

use super::{Around, Choices, Collected, Description};
use jiff::SignedDuration;
use standpipe_job::Moment;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Source;
use standpipe_job::event::{Event, KeptLog};
use standpipe_job::journal::evidence;
use standpipe_job::plan::{Parsed, Plan, typed};
use standpipe_job::{Record, replay};
use standpipe_library::Kind;
use standpipe_quantity::value::Value;

/// The description by which it was judged: that of the job's plan, or the one that was kept beside it.
pub fn described(kept: &KeptLog, parsed: &Parsed, folder: &Path) -> Result<Description, String> {
    let mut problems = Problems::new();
    let source = match &kept.description {
        Some(text) => {
            let mut from = evidence::proving(folder, text)?;
            let read = std::io::read_to_string(&mut from).map_err(|it| it.to_string())?;
            from.holds(text)?;
            Some(Source::new(&*text.name, read))
        }
        None => {
            let document = parsed.library.find(Kind::Log, &typed("log", &kept.log), &mut problems);
            document.map(|document| document.source.clone())
        }
    };
    let description = source.and_then(|source| Description::read(&source, &parsed.units, &mut problems));
    description.ok_or_else(|| format!("the plan has no `{}`", kept.log))
}

/// Its rows, read as they were.
pub fn rows(kept: &KeptLog, from: impl Read, description: &Description, parsed: &Parsed) -> Result<Collected, String> {
    let choices = Choices::of_written(&kept.said).ok_or("what was said about it is not understood")?;
    let read = Collected::read(from, &description.wanted, choices, &parsed.units);
    read.map_err(|_| "it is not read as it was".to_owned())
}

/// What its checks looked at when it was kept, after these events.
pub fn around(kept: &KeptLog, plan: &Plan, before: &[Record]) -> Around {
    let state = replay::replay(before);
    Around {
        spec: Some(plan.facts(state.variant.as_deref(), &state.supplied)),
        window: match &kept.window {
            Some(Value::Range(low, high)) => Some((low.clone(), high.clone())),
            _ => None,
        },
        events: kept.events.clone(),
        job_time: kept.job_time,
    }
}

/// The moment of second 0. For what was kept before that was written down: by the first entry, whose second was.
pub fn zero(kept: &KeptLog, before: &[Record]) -> Option<Moment> {
    kept.zero.or_else(|| {
        let mut entries = before.iter().filter(|record| matches!(record.event, Event::Entered { .. }));
        let (first, (second, _)) = (entries.next()?.at, kept.job_time?);
        let last = entries.next_back().map_or(first, |record| record.at);
        let milliseconds = SignedDuration::from_millis((second * 1000.0).round() as i64);
        first.min(last).checked_add(-milliseconds)
    })
}
