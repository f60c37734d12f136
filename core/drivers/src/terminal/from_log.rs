//! A value taken from the file of a log instead of being typed: the reading at a time that is said, judged as in a file of
//! answers. What the log leaves open is asked; nothing is guessed.

use indexmap::IndexMap;
use jiff::ToSpan;
use jiff::civil::{DateTime, Time};

use super::Outcome;
use super::page::{Choice, Page};
use super::question::{Answer, Typing, Wants};
use super::session::{Fault, Flow, Session, path_of};
use crate::answers::FromLog;
use crate::logs::{read_from, unplaced};
use standpipe_diagnostic::Diagnostic;
use standpipe_job::plan::typed;
use standpipe_job::{AnswerKind, EvidenceRef, Prompt, PromptField, ReadFrom};
use standpipe_log::{Choices, Question, TimeForm, Trouble};
use standpipe_quantity::value::Value;
use standpipe_stream::as_typed;

/// Questions that are answered before a log is given up: there are fewer things to leave open.
const MOST_QUESTIONS: usize = 12;

/// What was taken, and when it was read.
#[derive(Clone, Debug)]
pub struct Logged {
    pub at: DateTime,
    pub read: ReadFrom,
}

/// What came of looking into a log.
enum Look {
    /// The reading in words and as it is entered, when its row was written, and how it was read.
    Shown {
        typed: String,
        shown: String,
        row: DateTime,
        read: Box<ReadFrom>,
    },
    Open(Question),
    /// It counts from its start, and nobody said when that was.
    Begins,
    Refused(Box<Diagnostic>),
}

impl Session<'_> {
    /// Whether a column of a log could give it. While a reader is followed, that one does.
    pub(super) fn takes_a_log(&mut self, prompt: &Prompt, field: &PromptField) -> bool {
        let log = log_of("", None);
        self.ear.is_none()
            && prompt.item.is_none()
            && field.kind == AnswerKind::Quantity
            && self.logs.source(&self.machine.plan, field, &log).is_ok()
    }

    pub(super) fn take_from_log(&mut self, prompt: &Prompt, field: &PromptField) -> Result<Flow, Fault> {
        let title = format!("Take the {} from a log", field.name.replace('_', " "));
        let page = self.page(&title, vec!["The file that the reader wrote; a copy is kept.".to_owned()], &[]);
        let path = match self.words(page.clone(), "Log, as a file [path]", "")? {
            Err(outcome) => return Ok(Flow::End(outcome)),
            Ok(None) => return Ok(Flow::Go),
            Ok(Some(path)) => path,
        };
        let Some(kept) = self.kept(&path) else { return Ok(Flow::Go) };
        // How the instrument in the hand writes its logs is said in the shop file.
        let with = self.draft.with.get(&field.name).or(match field.instruments.as_slice() {
            [only] => Some(only),
            _ => None,
        });
        let instruments = &self.machine.plan.shop.instruments;
        let with = with.filter(|id| instruments.get(*id).is_some_and(|it| it.log.is_some())).cloned();
        let mut log = log_of(&path_of(&path), with.as_deref());
        let now = (self.clock)();
        let (mut at, mut asked) = (now, false);
        for _ in 0..MOST_QUESTIONS {
            match self.look(field, &log, &kept, at, !asked) {
                Look::Open(question) => match self.choose(&page, &question)? {
                    Err(outcome) => return Ok(Flow::End(outcome)),
                    Ok(Some(choice)) if say(&mut log.choices, &question, &choice) => {}
                    Ok(_) => return Ok(Flow::Go),
                },
                Look::Begins => match self.time(&page, "When did the log begin? [HH:MM:SS]", "")? {
                    Err(outcome) => return Ok(Flow::End(outcome)),
                    Ok(None) => return Ok(Flow::Go),
                    Ok(Some(time)) => log.starts = Some(time),
                },
                Look::Refused(problem) => {
                    self.refusal = vec![problem.message];
                    self.refusal.extend(problem.expected.map(|text| format!("Expected: {text}")));
                    self.refusal.push("Do: name another log or time, or type what you read by eye".to_owned());
                    return Ok(Flow::Go);
                }
                Look::Shown { shown, row, .. } if !asked => {
                    let mut page = page.clone();
                    page.facts = vec![format!("Last row {}: {shown}.", row.strftime("%Y-%m-%d %H:%M:%S"))];
                    let begun = row.strftime("%H:%M:%S").to_string();
                    match self.time(&page, "Read at what time? [HH:MM:SS]", &begun)? {
                        Err(outcome) => return Ok(Flow::End(outcome)),
                        Ok(None) => return Ok(Flow::Go),
                        Ok(Some(time)) => {
                            // A time later than the last row is the day before.
                            let day = row.date().to_datetime(time);
                            at = if day > row && day > now { day.checked_sub(1.days()).unwrap_or(day) } else { day };
                            asked = true;
                        }
                    }
                }
                Look::Shown { typed, read, .. } => {
                    self.draft.log(field, typed, Logged { at, read: *read });
                    self.draft.next(prompt);
                    return Ok(Flow::Go);
                }
            }
        }
        self.refusal = vec!["the log leaves too much open".to_owned()];
        Ok(Flow::Go)
    }

    /// What the log shows at a time; `last`: what its last row before that shows, however old it is.
    fn look(&mut self, field: &PromptField, log: &FromLog, kept: &EvidenceRef, at: DateTime, last: bool) -> Look {
        let machine = self.machine;
        let plan = &machine.plan;
        let source = match self.logs.source(plan, field, log) {
            Ok(source) => source,
            Err(problem) => return Look::Refused(problem),
        };
        let from = self.state.at.unwrap_or(at);
        let feed = match self.logs.feed(plan, (&self.dir, kept), log, &source, at) {
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

    fn choose(&mut self, page: &Page, question: &Question) -> Result<Result<Option<String>, Outcome>, Fault> {
        if question.choices.is_empty() {
            let mut page = page.clone();
            page.facts = vec![question.message.clone()];
            return self.words(page, "Which?", "");
        }
        let mut page = Page { commands: Vec::new(), ..page.clone() };
        page.facts = vec![format!("{}.", question.message)];
        page.ask = "Which is meant? (Esc: leave it)".to_owned();
        page.choices = question.choices.iter().map(|name| Choice { name: name.clone(), meaning: None }).collect();
        Ok(match self.put(&page, Wants::Choice(page.choices.len()), &mut Typing::default())? {
            Answer::Interrupted => Err(Outcome::Interrupted),
            Answer::Picked(picked) => Ok(question.choices.get(picked).cloned()),
            _ => Ok(None),
        })
    }

    fn time(&mut self, page: &Page, ask: &str, begun: &str) -> Result<Result<Option<Time>, Outcome>, Fault> {
        let mut begun = begun.to_owned();
        loop {
            begun = match self.words(page.clone(), ask, &begun)? {
                Err(outcome) => return Ok(Err(outcome)),
                Ok(None) => return Ok(Ok(None)),
                Ok(Some(text)) => text,
            };
            match begun.parse::<Time>() {
                Ok(time) if begun.contains(':') => return Ok(Ok(Some(time))),
                _ => {
                    self.refusal = vec![format!("`{begun}` is no time of day"), "Expected: such as 14:05:30".to_owned()]
                }
            }
        }
    }
}

fn log_of(path: &str, instrument: Option<&str>) -> FromLog {
    FromLog {
        file: typed("<terminal>", path),
        instrument: instrument.map(|id| typed("<terminal>", id)),
        reads: IndexMap::new(),
        starts: None,
        choices: Choices::default(),
    }
}

/// Takes the answer to a question; `false` for one that can't be said here.
fn say(choices: &mut Choices, question: &Question, answer: &str) -> bool {
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
