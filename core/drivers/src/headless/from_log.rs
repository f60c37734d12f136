//! An answer that takes its values from a log: judged as what a reader sends is, at the time of the answer.

use super::{Due, Fault, Run, Timed, unread};
use crate::answers::FromLog;
use crate::listen::covered_as;
use crate::logs::{asked, read_from};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::{AnswerKind, Entry, Event, Moment, Pending, Prompt, PromptField, ReadFrom, StreamStatus, What};
use standpipe_log::TimeForm;
use standpipe_stream::{as_typed, span};

impl Run<'_> {
    /// Fills in what a log says of what is asked, at the time of the answer.
    pub(super) fn fill_from_log(&mut self, entry: &mut Entry, log: &FromLog, next: &Timed<'_>) -> Result<(), Fault> {
        let Pending::Entry(prompt) = self.job.pending() else { return Ok(()) };
        if prompt.address.step != entry.step || entry.item.is_some() && entry.item != prompt.item {
            // The machine says what is asked instead.
            return Ok(());
        }
        let place = &log.file.place;
        if let (Some(item), None) = (&prompt.item, &entry.item) {
            let message = format!("`{}` goes on item by item, and the log is read for one", entry.step);
            return Err(Box::new(
                Diagnostic::error(Code::UnfitAnswer, place, message).help(format!("name it: `item: {item}`")),
            ));
        }
        let mut read: Option<ReadFrom> = None;
        for field in &prompt.fields {
            let is_read =
                matches!(field.kind, AnswerKind::Quantity | AnswerKind::Held) && !entry.typed.contains_key(&field.name);
            if !is_read || (field.optional && !log.reads.contains_key(&field.name)) {
                continue;
            }
            let (typed, one) = self.one_from_log(&prompt, field, log, next)?;
            entry.typed.insert(field.name.clone(), typed);
            match &mut read {
                None => read = Some(one),
                Some(read) => {
                    read.said.extend(one.said);
                    read.values.extend(one.values);
                }
            }
        }
        if read.is_none() {
            let message = format!("`{}` asks for nothing that a log could say", prompt.asks);
            return Err(Box::new(
                Diagnostic::error(Code::UnfitAnswer, place, message)
                    .expected("a step that reads a quantity, awaits one, or holds for a time")
                    .help("enter it with `enter:`"),
            ));
        }
        entry.read = read.map(Box::new);
        Ok(())
    }

    fn one_from_log(
        &mut self,
        prompt: &Prompt,
        field: &PromptField,
        log: &FromLog,
        next: &Timed<'_>,
    ) -> Result<(String, ReadFrom), Fault> {
        let plan = self.job.plan();
        let place = &log.file.place;
        let source = self.logs.source(plan, field, log)?;
        let dir = self.job.dir().to_owned();
        let kept = self.logs.keep(&dir, self.folder, log)?;
        let feed = self.logs.feed(plan, (&dir, &kept), log, &source, next.at)?;
        let from = self.job.state().at.unwrap_or(next.at);
        let heard = feed
            .until(next.at, from)
            .map_err(|fault| unread(next, format!("`{}` can't be read on: {fault}", feed.source), "is it there?"))?;
        if let Some(trouble) = &feed.live.trouble {
            return Err(asked(trouble, log));
        }
        if feed.base().is_none() || feed.live.understood().is_none() {
            let counts = feed.live.understood().is_some_and(|it| it.time.form == TimeForm::Elapsed);
            let (message, help) = match counts {
                true => ("the log counts from its start, and nothing says when that was", "add `starts: \"08:15:00\"`"),
                false => ("the log has no row with a time", "is it the right file?"),
            };
            return Err(Box::new(Diagnostic::error(Code::UnreadableLog, place, message).help(help)));
        }
        let column = &source.column;
        let now = feed.seconds(next.at);
        let (watch, scale) = (feed.live.watch(column), feed.live.scale(column));
        let unshown = |why: String| {
            Box::new(
                Diagnostic::error(Code::UnfitAnswer, place, format!("the log does not show `{}`: {why}", field.name))
                    .expected("rows that can be relied on at the time of the answer")
                    .help("is it the right log, and the right time? What was read by eye is entered with `enter:`"),
            )
        };
        let (Some(watch), Some(scale)) = (watch, scale) else {
            return Err(unshown(format!("it has no column `{column}`")));
        };
        let mut covered = None;
        let shown = match prompt.hold.filter(|_| field.kind == AnswerKind::Held) {
            Some(seconds) => {
                let (whole, gap) = watch.covers(now - seconds, now);
                covered = Some(covered_as(whole, seconds, gap, column));
                match whole {
                    true => Ok((format!("{seconds} s"), None)),
                    false => Err(format!("{} to hold, and a gap of {}", span(seconds), span(gap))),
                }
            }
            None => watch.now(now).map(|reading| (as_typed(&plan.units, scale, &reading, watch), Some(reading.at))),
        };
        let read = |row| read_from(feed, &kept, &source, &field.name, row).ok_or("no row has a time".to_owned());
        let shown = shown.and_then(|(typed, row)| Ok((typed, read(row)?))).map_err(unshown);
        // What was entered late is no news of a time that is past.
        let is_told = source.awaited && next.entered_at.is_none();
        if is_told && !std::mem::replace(&mut feed.begun, true) {
            let note = feed.live.described(column, &feed.source, None);
            let at = heard.first().map_or(next.at, |(at, _)| *at);
            let began =
                note.map(|note| What::Stream { name: column.clone(), turn: StreamStatus::Began, note: Some(note) });
            self.due.extend(began.filter(|it| !self.has_told(it, None)).map(|began| Due::Told(at, began)));
        }
        if is_told {
            self.due.extend(heard.into_iter().map(|(at, heard)| Due::Heard(at, heard)));
            let covered = covered.filter(|it| !self.has_told(it, Some(next.at)));
            self.due.extend(covered.map(|covered| Due::Told(next.at, covered)));
        }
        shown
    }

    /// Whether a run that ended before its answer has told this already: a log says the same whenever it is read.
    fn has_told(&self, told: &What, when: Option<Moment>) -> bool {
        let What::Stream { name, turn, note } = told else { return false };
        self.job.records().iter().any(|record| {
            matches!(&record.event, Event::Stream { name: of, turn: it, note: how, .. } if (of, it, how) == (name, turn, note))
                && when.is_none_or(|when| record.at == when)
        })
    }
}
