//! A reader beside answers: what it did up to each of them, and its reading of then.

use indexmap::IndexMap;
use standpipe_job::Moment;

use super::{Due, Fault, Run, Timed, unread};
use crate::listen::began;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::{Prompt, ReadFrom, TakenFrom};
use standpipe_stream::{as_typed, mapped};

impl Run<'_> {
    /// Takes the rows that came before an answer.
    pub(super) fn listen(&mut self, next: &Timed<'_>) -> Result<(), Fault> {
        let Some(feed) = self.feed.as_deref_mut() else { return Ok(()) };
        let from = self.job.state().at.unwrap_or(next.at);
        let heard = feed.until(next.entered(), from).map_err(|fault| {
            unread(next, format!("`{}` can't be read on: {fault}", feed.source), "is it still there?")
        })?;
        if let Some(trouble) = &feed.live.trouble {
            let shop = mapped(self.job.plan()).map(|words| format!("; {words}")).unwrap_or_default();
            let help = format!("say it by an option; `standpipe run --help` has them{shop}");
            return Err(unread(next, trouble.words(&feed.source), &help));
        }
        if let (false, Some((at, _))) = (feed.begun, heard.first()) {
            feed.begun = true;
            // Where a run ended before the answer that it listened for, what was heard until then stands in the journal
            // already: it was followed all the time.
            let told =
                |name: &str, at: Moment| self.job.state().streams.get(name).is_some_and(|before| before.at >= at);
            let names = feed.live.columns.iter().map(|column| &column.name);
            let names = names.filter(|name| !told(name, *at));
            let began = names.filter_map(|name| began(&feed.live, self.job.state(), name, &feed.source, *at));
            self.due.extend(began.map(|what| Due::Told(*at, what)));
        }
        self.due.extend(heard.into_iter().map(|(at, heard)| Due::Heard(at, heard)));
        Ok(())
    }

    /// The reading of now, for the field that is asked.
    pub(super) fn read_now(
        &mut self,
        prompt: &Prompt,
        at: Moment,
        place: &Place,
    ) -> Result<(String, String, Option<ReadFrom>), Fault> {
        let refused = |message: String| {
            Box::new(
                Diagnostic::error(Code::UnfitAnswer, place, message)
                    .expected("a reading that can be relied on")
                    .help("enter what was read by eye instead, with its unit"),
            )
        };
        let Some(feed) = self.feed.as_deref_mut() else {
            return Err(refused("no reader is followed; `--reader FILE` names one".to_owned()));
        };
        let [field] = prompt.fields.as_slice() else {
            return Err(refused(format!("`{}` asks for several values, a reader gives one", prompt.asks)));
        };
        let Some((column, quantity)) =
            feed.live.column_of(field).map(|column| (column.name.clone(), column.quantity.clone()))
        else {
            return Err(refused(format!("the reader does not read `{}`", field.name)));
        };
        let now = feed.seconds(at);
        let (Some(watch), Some(scale)) = (feed.live.watch(&column), feed.live.scale(&column)) else {
            return Err(refused(format!("the reader does not read `{}`", field.name)));
        };
        let reading = match watch.now(now) {
            Ok(reading) => reading,
            Err(why) => return Err(refused(format!("the reader shows nothing for `{}`: {why}", field.name))),
        };
        let value = as_typed(&self.job.plan().units, scale, &reading, watch);
        let taken = TakenFrom { column, quantity, row: Some(reading.at) };
        let read = feed.live.read_from(IndexMap::from([(field.name.clone(), taken)]));
        let read = read.map_err(|fault| refused(format!("its rows can't be kept: {fault}")))?;
        Ok((field.name.clone(), value, read.map(|read| ReadFrom { zero: feed.base(), ..read })))
    }
}
