//! A value offered from the file of a log: the reading at a time that is said, judged as in a file of answers. What the log
//! leaves open is a question; nothing is guessed.

use indexmap::IndexMap;
use standpipe_job::Moment;

use super::answers::FromLog;
use super::logs::{Logs, read_from, unplaced};
use standpipe_diagnostic::Diagnostic;
use standpipe_job::plan::typed;
use standpipe_job::{AnswerKind, EvidenceRef, OpenJob, Prompt, PromptField, ReadFrom};
use standpipe_log::{Choices, Question, TimeForm, Trouble};
use standpipe_quantity::value::Value;
use standpipe_stream::as_typed;

/// What was taken, and when it was read.
#[derive(Clone, Debug)]
pub struct Logged {
    pub at: Moment,
    pub read: ReadFrom,
}

/// What came of looking into a log.
pub enum Look {
    /// The reading in words and as it is entered, when its row was written, and how it was read.
    Shown {
        typed: String,
        shown: String,
        row: Moment,
        read: Box<ReadFrom>,
    },
    Open(Question),
    /// It counts from its start, and nobody said when that was.
    Begins,
    Refused(Box<Diagnostic>),
}

impl Logs {
    /// Whether a column of a log could give a value that is asked.
    pub fn could_give(&mut self, job: &OpenJob, prompt: &Prompt, field: &PromptField) -> bool {
        prompt.item.is_none()
            && field.kind == AnswerKind::Quantity
            && self.source(job.plan(), field, &log_of("", None)).is_ok()
    }

    /// What the log shows at a time; `last`: what its last row before that shows, however old it is.
    pub fn look(
        &mut self,
        job: &OpenJob,
        field: &PromptField,
        (log, kept): (&FromLog, &EvidenceRef),
        at: Moment,
        last: bool,
    ) -> Look {
        let plan = job.plan();
        let source = match self.source(plan, field, log) {
            Ok(source) => source,
            Err(problem) => return Look::Refused(problem),
        };
        let from = job.state().at.unwrap_or(at);
        let feed = match self.feed(plan, (job.dir(), kept), log, &source, at) {
            Ok(feed) => feed,
            Err(problem) => return Look::Refused(problem),
        };
        let refused = |message: String| Look::Refused(Box::new(unplaced(message, log)));
        if let Err(fault) = feed.until(at, from) {
            return refused(format!("the log can't be read on: {fault}"));
        }
        match &feed.live.trouble {
            Some(Trouble::Asked(questions)) if !questions.is_empty() => return Look::Open(questions[0].clone()),
            Some(trouble) => return refused(trouble.words("the log")),
            None => {}
        }
        let Some(zero) = feed.base() else {
            let counts = feed.live.understood().is_some_and(|it| it.time.form == TimeForm::Elapsed);
            return if counts { Look::Begins } else { refused("the log has no row with a time before now".to_owned()) };
        };
        let (watch, scale) = (feed.live.watch(&source.column), feed.live.scale(&source.column));
        let (Some(watch), Some(scale)) = (watch, scale) else {
            return refused(format!("the log has no column `{}`", source.column));
        };
        let reading = match watch.last().filter(|_| last) {
            Some(reading) => Ok(*reading),
            None => watch.now(feed.seconds(at)),
        };
        let reading = match reading {
            Ok(reading) => reading,
            Err(why) => return refused(format!("the log does not show it then: {why}")),
        };
        let Some(read) = read_from(feed, kept, &source, &field.name, Some(reading.at)) else {
            return refused("the log has no row with a time".to_owned());
        };
        let quantity = scale.quantity(reading.value);
        // Up to its second: the row itself has come by then.
        let row = zero.checked_add(jiff::SignedDuration::from_secs(reading.at.ceil() as i64)).unwrap_or(zero);
        Look::Shown {
            typed: as_typed(&plan.units, scale, &reading, watch),
            shown: plan.show(&Value::Quantity(quantity)),
            row,
            read: Box::new(read),
        }
    }
}

/// A log of which nothing was said yet but its file and the instrument that wrote it.
pub fn log_of(path: &str, instrument: Option<&str>) -> FromLog {
    FromLog {
        file: typed("<terminal>", path),
        instrument: instrument.map(|id| typed("<terminal>", id)),
        reads: IndexMap::new(),
        starts: None,
        choices: Choices::default(),
    }
}

/// Takes the answer to a question; `false` for one that can't be said here.
pub fn say(choices: &mut Choices, question: &Question, answer: &str) -> bool {
    let (option, value) = question.option.trim_start_matches('-').split_once(' ').unwrap_or((&question.option, ""));
    let key = match value.split_once('=') {
        Some((name, _)) => format!("{option}.{name}"),
        None => option.to_owned(),
    };
    let said = Choices::of_written(&IndexMap::from([(key, answer.to_owned())]));
    let is_said = said.is_some();
    *choices = said.unwrap_or_default().over(choices);
    is_said
}
