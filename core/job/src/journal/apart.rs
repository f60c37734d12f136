//! Texts of people out of the lines of a journal, and back in: by where they stand, never by what they say.

use std::io;

use indexmap::IndexMap;
use standpipe_apart::{Class, Opening, Sealer};

use crate::event::{Event, EvidenceRef, ReadFrom, Record};
use crate::plan::{Private, typed_as};
use crate::said::{Remark, StreamNote};
use standpipe_quantity::value::Value;

/// Whether what has this name is kept apart.
type Which<'a> = &'a dyn Fn(&str) -> bool;

/// Calls `each` with every text of a record that is kept apart. `fields` and `facts` say which readings and facts are.
fn texts<E>(
    record: &mut Record,
    (fields, facts): (Which<'_>, Which<'_>),
    each: &mut dyn FnMut(Class, &mut String) -> Result<(), E>,
) -> Result<(), E> {
    let said = Class::Said;
    let mut evidence: Vec<&mut EvidenceRef> = Vec::new();
    match &mut record.event {
        Event::Entered { values, typed, evidence: all, read, remarks, .. } => {
            readings(values, typed, fields, each)?;
            evidence.extend(all.iter_mut().chain(read.as_deref_mut().map(|ReadFrom { rows, .. }| rows)));
            for remark in remarks {
                if let Remark::FromLog(file) = remark {
                    each(said, file)?;
                }
            }
        }
        Event::Corrected { values, typed, because, .. } => {
            readings(values, typed, fields, each)?;
            each(said, because)?;
        }
        Event::Supplied { path, value, typed, source } => {
            if path.strip_prefix("job.").is_some_and(facts) {
                fact(value, typed, &mut |text| each(Class::Intake, text))?;
            }
            each(said, source)?;
        }
        Event::Accepted { because, .. }
        | Event::Skipped { because, .. }
        | Event::Amended { because, .. }
        | Event::Abandoned { because, .. } => each(said, because)?,
        Event::Noted { text, .. } => each(said, text)?,
        // Made of whatever the procedure puts on it.
        Event::Paused { tag, .. } => tag.iter_mut().try_for_each(|line| each(Class::Intake, line))?,
        Event::Attached { evidence: one, .. } => evidence.push(one),
        Event::LogKept(kept) => {
            evidence.push(&mut kept.evidence);
            evidence.extend(&mut kept.description);
        }
        Event::Stream { note: Some(StreamNote::From { source, .. }), .. } => each(said, source)?,
        _ => {}
    }
    evidence.into_iter().try_for_each(|one| each(said, &mut one.name))
}

/// A text, or several, with what was typed for them.
fn fact<E>(value: &mut Value, typed: &mut String, each: &mut dyn FnMut(&mut String) -> Result<(), E>) -> Result<(), E> {
    match value {
        Value::Text(text) => {
            each(text)?;
            each(typed)
        }
        Value::List(items) => {
            for item in items {
                if let Value::Text(text) = item {
                    each(text)?;
                }
            }
            let mut parts: Vec<String> = typed.split(BETWEEN).map(str::to_owned).collect();
            parts.iter_mut().try_for_each(each)?;
            *typed = parts.join(BETWEEN);
            Ok(())
        }
        _ => Ok(()),
    }
}

/// Between texts that were typed for one fact.
const BETWEEN: &str = ", ";

fn readings<E>(
    values: &mut IndexMap<String, Value>,
    typed: &mut IndexMap<String, String>,
    fields: Which<'_>,
    each: &mut dyn FnMut(Class, &mut String) -> Result<(), E>,
) -> Result<(), E> {
    for (name, value) in values.iter_mut().filter(|(name, _)| fields(name)) {
        let Value::Text(text) = value else { continue };
        each(Class::Said, text)?;
        if let Some(typed) = typed.get_mut(name) {
            each(Class::Said, typed)?;
        }
    }
    Ok(())
}

/// What was typed, as it was read: the blanks around it would make another token of it.
pub(super) fn as_read(record: &mut Record, private: &Private) {
    match &mut record.event {
        Event::Entered { values, typed, .. } | Event::Corrected { values, typed, .. } => {
            for (name, typed) in typed.iter_mut().filter(|(name, _)| private.has(name)) {
                if let Some(text) = values.get(name).and_then(typed_as) {
                    typed.clone_from(text);
                }
            }
        }
        Event::Supplied { path, value, typed, .. }
            if path.strip_prefix("job.").is_some_and(|path| private.has_fact(path)) =>
        {
            match value {
                Value::List(items) => {
                    *typed = items.iter().filter_map(typed_as).map(String::as_str).collect::<Vec<_>>().join(BETWEEN);
                }
                value => typed_as(value).into_iter().for_each(|text| typed.clone_from(text)),
            }
        }
        _ => {}
    }
}

/// Tokens in the place of texts. `private`: none where nothing of the plan is known, and only what is no reading can be kept.
///
/// Errors: a text that reads as a token, wherever it stands; no random bits.
pub(super) fn seal(record: &mut Record, private: Option<&Private>, sealer: &mut Sealer) -> io::Result<()> {
    let open = serde_json::to_string(record).unwrap_or_default();
    if standpipe_apart::is_in(&open) {
        return Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "one of its texts looks like a token that stands for a text",
        ));
    }
    let of_plan = matches!(record.event, Event::Entered { .. } | Event::Corrected { .. } | Event::Supplied { .. });
    if of_plan && private.is_none() {
        return Err(io::Error::other("nobody has said which of its texts to keep apart"));
    }
    let fields = |name: &str| private.is_some_and(|private| private.has(name));
    let facts = |path: &str| private.is_some_and(|private| private.has_fact(path));
    texts(record, (&fields, &facts), &mut |class, text| sealer.seal(class, text))
}

/// Texts in the place of tokens.
pub(super) fn open(record: &mut Record, opening: &Opening) {
    let any = |_: &str| true;
    let Ok(()) = texts::<std::convert::Infallible>(record, (&any, &any), &mut |_, text| {
        opening.open(text);
        Ok(())
    });
}
