//! A value taken from the file of a log instead of being typed: what the log leaves open is asked.

use jiff::SignedDuration;
use jiff::civil::Time;

use super::Outcome;
use super::page::Page;
use super::question::{Answer, Typing, Wants};
use super::session::{Fault, Flow, Session, path_of};
use crate::from_log::{Logged, Look, log_of, say};
use crate::setting::Choice;
use standpipe_job::{Prompt, PromptField};
use standpipe_log::Question;

/// Questions that are answered before a log is given up: there are fewer things to leave open.
const MOST_QUESTIONS: usize = 12;

impl Session<'_> {
    /// Whether a column of a log could give it. While a reader is followed, that one does.
    pub(super) fn takes_a_log(&mut self, prompt: &Prompt, field: &PromptField) -> bool {
        self.reader.is_none() && self.logs.could_give(self.job, prompt, field)
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
        let instruments = &self.job.plan().shop.instruments;
        let with = with.filter(|id| instruments.get(*id).is_some_and(|it| it.log.is_some())).cloned();
        let mut log = log_of(&path_of(&path), with.as_deref());
        let now = (self.clock)();
        let (mut at, mut asked) = (now, false);
        for _ in 0..MOST_QUESTIONS {
            match self.logs.look(self.job, field, (&log, &kept), at, !asked) {
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
                    let begun = row.strftime("%H:%M:%S");
                    match self.time(&page, "Read at what time? [HH:MM:SS]", &begun)? {
                        Err(outcome) => return Ok(Flow::End(outcome)),
                        Ok(None) => return Ok(Flow::Go),
                        Ok(Some(time)) => {
                            // A time later than the last row is the day before.
                            let day = row.at_wall(row.date().to_datetime(time));
                            let before = day.saturating_add(SignedDuration::from_hours(-24));
                            at = if day > row && day > now { before } else { day };
                            asked = true;
                        }
                    }
                }
                Look::Shown { typed, read, .. } => {
                    self.draft.log(field, typed, Logged { at, read: *read });
                    self.move_on(prompt);
                    return Ok(Flow::Go);
                }
            }
        }
        self.refusal = vec!["the log leaves too much open".to_owned()];
        Ok(Flow::Go)
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
                    self.refusal =
                        vec![format!("`{begun}` is not a time of day"), "Expected: such as 14:05:30".to_owned()]
                }
            }
        }
    }
}
