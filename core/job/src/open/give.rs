//! Taking an input: known already, still in time, in the right hands, decided, on the disk. Only then does it count.

use std::mem::discriminant;
use std::ops::Range;

use crate::moment::Moment;

use super::book;
use super::{Given, InputId, Kept, NotKept, On, OpenJob, Via, When, is_beside};
use crate::event::{Event, Origin, Record};
use crate::input::{Input, Refusal, What};
use crate::replay::input_of;
use standpipe_diagnostic::Code;

impl OpenJob {
    /// Takes an input; `now` is the time of its coming.
    ///
    /// Errors: why nothing was recorded. The job stands as it stood.
    pub fn give(&mut self, given: Given, now: Moment) -> Result<Kept, NotKept> {
        if let Some(before) = given.id.and_then(|id| self.ids.get(&id)) {
            return self.again(&given, before.0..before.1 + 1);
        }
        if self.journal.is_none() {
            return Err(NotKept::Looking);
        }
        if let Some(on) = &given.on {
            self.in_time(on, &given.by)?;
        }
        self.may_go_on(given.origin, Some(&given.what))?;
        let Given { id, via, by, origin, when, what, .. } = given;
        let (at, entered_at) = match when {
            When::Now => (now, None),
            When::Done(at) => (at, Some(now)),
            When::Told { at, entered_at } => (at, entered_at),
        };
        let resumes = matches!(what, What::Resume);
        let records = self.machine.decide(&self.state, &Input { at, entered_at, by, origin, what })?;
        let kept = self.record((id, via), records)?;
        if resumes {
            self.left = None;
        }
        Ok(kept)
    }

    /// On the disk first; then in the state, and its id among those that are known.
    pub(super) fn record(
        &mut self,
        (id, via): (Option<InputId>, Option<Via>),
        mut records: Vec<Record>,
    ) -> Result<Kept, NotKept> {
        let first = self.state.seq + 1;
        let journal = self.journal.as_mut().ok_or(NotKept::Looking)?;
        journal.as_read(&mut records);
        // What can't be entered in the book that lies beside the job is not done either.
        let entering = book::Entering::of(journal.dir(), &self.machine.plan.job.id, &records).map_err(NotKept::Disk)?;
        journal.append_from(id, via.as_ref(), &records).map_err(NotKept::Disk)?;
        let head = journal.head().to_owned();
        for record in &records {
            self.state.apply(record);
        }
        if let Some(last) = records.last().map(|record| record.seq) {
            self.ends.push(last);
            self.ids.extend(id.map(|id| (id, (first, last))));
            self.vias.extend(via.map(|via| (first, via)));
            self.records.extend(records);
        }
        if let Some(entering) = entering {
            entering.enter(head).map_err(NotKept::Disk)?;
        }
        if let Some(mut after) = self.after.take() {
            after(self, first);
            self.after = Some(after);
        }
        Ok(Kept::Now(first..self.state.seq + 1))
    }

    /// Whether an input of this id is on the disk already: from this person, and made on this address, where it says one. Who
    /// makes an input of what is asked now looks here first, since what is asked now is not what it was made on.
    pub fn has_kept(&self, id: InputId, by: &str, asks: Option<&str>) -> bool {
        let Some((first, last)) = self.ids.get(&id) else { return false };
        let batch = &self.records[*first as usize - 1..*last as usize];
        input_of(batch).is_some_and(|input| {
            let made_on = match &batch[0].event {
                Event::Entered { address, .. } => asks.is_none_or(|asks| asks == address.to_string()),
                _ => true,
            };
            made_on && input.by == by
        })
    }

    /// The same input a second time. Another one under its id was never kept, and must not be called so.
    fn again(&self, given: &Given, events: Range<u64>) -> Result<Kept, NotKept> {
        let batch = &self.records[events.start as usize - 1..events.end as usize - 1];
        let same = input_of(batch).is_some_and(|input| {
            let step = match (&input.what, &given.what) {
                (What::Enter(kept), What::Enter(entry)) => kept.step == entry.step,
                (kept, what) => discriminant(kept) == discriminant(what),
            };
            step && input.by == given.by
        });
        if same {
            return Ok(Kept::Before(events));
        }
        Err(Refusal::new(Code::UnfitAnswer, "another input was kept under this id")
            .help("give every input an id of its own, and the same one only when it is sent again")
            .into())
    }

    /// In time: what it was made on is what is asked, and nothing happened since that could have changed that, but for
    /// what the same person entered for other things: who works ahead knows of their own entries.
    fn in_time(&self, on: &On, by: &str) -> Result<(), NotKept> {
        let now = self.asked();
        let since = usize::try_from(on.since).unwrap_or(usize::MAX).min(self.records.len());
        let same = now.on.as_ref().is_some_and(|asked| asked.asks == on.asks && on.since <= asked.since);
        if same && !self.records[since..].iter().any(|record| moves(record, on, by)) {
            return Ok(());
        }
        Err(NotKept::Late { meanwhile: since as u64 + 1..self.state.seq + 1, now: Box::new(now) })
    }

    /// A job that was left under way is resumed by whoever goes on, after looking: nobody knows what was touched. Answers go
    /// on after answers, and what a reader does or somebody notes needs nobody's look.
    ///
    /// `what`: none for an input that is still being made, such as an entry.
    pub fn may_go_on(&self, origin: Origin, what: Option<&What>) -> Result<(), Refusal> {
        let Some(left) = self.left else { return Ok(()) };
        let beside = matches!(
            what,
            Some(What::Resume | What::Note(_) | What::KeepLog(_) | What::Sample { .. } | What::Stream { .. })
        );
        let by_hand = matches!(origin, Origin::Typed | Origin::Page);
        if beside || (left == Origin::Answers && !by_hand) {
            return Ok(());
        }
        Err(Refusal::new(Code::UnfitAnswer, "the job was under way by hand and was not paused")
            .expected("an answer with `resume: true`")
            .help("resume first: what may have changed meanwhile is then asked again"))
    }
}

/// Whether an event could have changed what an input was made on.
fn moves(record: &Record, on: &On, by: &str) -> bool {
    let others = record.by != by;
    match &record.event {
        event if is_beside(event) => false,
        Event::Entered { address, .. } => others || address.to_string() == on.asks,
        // What follows from entries.
        Event::Settled { .. }
        | Event::Computed { .. }
        | Event::Judged { .. }
        | Event::Ended { .. }
        | Event::RoundEnded { .. }
        | Event::Recognised { .. } => others,
        _ => true,
    }
}
