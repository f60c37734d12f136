//! The loop: what the job waits for, asked at the terminal and given to the machine, until it ends or somebody leaves.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::DateTime;

use super::console::Console;
use super::draft::Draft;
use super::ear::{BEAT, Ear};
use super::key::Key;
use super::page::Page;
use super::question::{Answer, Command, Typing, Wants};
use super::setting::Setting;
use super::{Append, Ended, Keep, Outcome};
use crate::logs::Logs;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::{EvidenceRef, Input, Machine, Origin, Pending, Phase, PromptField, Record, Refusal, State, What};

pub(super) type Fault = Box<Diagnostic>;

/// After one thing was asked: go on with the job, or leave it.
#[derive(Debug)]
pub(super) enum Flow {
    Go,
    End(Outcome),
}

pub(super) struct Session<'a> {
    pub machine: &'a Machine,
    pub setting: Setting<'a>,
    pub state: State,
    pub append: &'a mut Append<'a>,
    pub keep: &'a mut Keep<'a>,
    pub clock: &'a dyn Fn() -> DateTime,
    pub who: String,
    pub console: &'a mut dyn Console,
    /// Why the last answer was not taken; shown with the next page.
    pub refusal: Vec<String>,
    pub draft: Draft,
    /// When the last key came, as the console counts.
    pub last_key: Duration,
    /// A reader that is followed.
    pub ear: Option<Ear>,
    /// The value that is asked now, if a reader could give it; and whether it is waited for.
    pub asking: Option<(PromptField, bool)>,
    /// The folder of the job, where evidence lies.
    pub dir: PathBuf,
    /// Logs that values were taken from.
    pub logs: Logs,
}

/// A key that comes sooner after the one before it is still that key held down, or bouncing: it answers no new page.
const BOUNCE: Duration = Duration::from_millis(120);

/// Said where one key is not enough.
const MANY: &str = "(number, then Enter)";

impl Session<'_> {
    pub fn run(mut self) -> Result<Ended, Fault> {
        let outcome = self.begin().and_then(|begun| match begun {
            Flow::End(outcome) => Ok(outcome),
            Flow::Go => self.go_on(),
        });
        self.console.rest().map_err(|error| terminal_fault(&error))?;
        Ok(Ended { outcome: outcome?, state: self.state, who: self.who })
    }

    fn begin(&mut self) -> Result<Flow, Fault> {
        if self.who.is_empty()
            && let Flow::End(outcome) = self.who_is_there()?
        {
            return Ok(Flow::End(outcome));
        }
        let people = self.setting.people();
        match self.setting.person(&self.who) {
            Some(id) => self.who = id,
            None if people.is_empty() => {}
            None => {
                let ids: Vec<String> = people.into_iter().map(|(id, _)| id).collect();
                let unknown = Refusal::new(Code::UnknownPerson, format!("the shop file names nobody called `{}`", self.who))
                    .expected(format!("one of: {}", ids.join(", ")));
                return Ok(Flow::End(Outcome::Refused(unknown)));
            }
        }
        match self.state.phase {
            Phase::New => match self.decide(&self.who.clone(), What::Open)? {
                Ok(()) => Ok(Flow::Go),
                Err(refusal) => Ok(Flow::End(Outcome::Refused(refusal))),
            },
            // The process ended without a pause, or somebody else takes over.
            Phase::Running => self.resume(),
            Phase::Pausing if self.state.actor.as_deref() != Some(self.who.as_str()) => self.resume(),
            _ => Ok(Flow::Go),
        }
    }

    fn go_on(&mut self) -> Result<Outcome, Fault> {
        loop {
            let flow = match self.machine.pending(&self.state) {
                Pending::Entry(prompt) => self.step(&prompt)?,
                Pending::Acceptance { title, because, shown, roles, .. } => {
                    self.acceptance(&title, &because, shown, &roles)?
                }
                Pending::Stopped { title, because, shown, .. } => self.stopped(&title, &because, shown)?,
                Pending::Facts { title, missing, .. } => self.facts(&title, &missing)?,
                Pending::Fault { message, place, .. } => self.faulted(&message, &place)?,
                Pending::Resumption { .. } => self.resume()?,
                Pending::Opening => match self.decide(&self.who.clone(), What::Tick)? {
                    // Nothing is asked and nothing follows: a defect, not something to be typed away.
                    Ok(()) if matches!(self.machine.pending(&self.state), Pending::Opening) => {
                        Flow::End(Outcome::Stuck)
                    }
                    Ok(()) => Flow::Go,
                    Err(refusal) => Flow::End(Outcome::Refused(refusal)),
                },
                Pending::Nothing { abandoned: true } => Flow::End(Outcome::Abandoned),
                Pending::Nothing { abandoned: false } => Flow::End(Outcome::Finished),
            };
            match flow {
                Flow::End(outcome) => return Ok(outcome),
                // A pause is the end of this sitting: the tag is printed, whoever comes next resumes.
                Flow::Go if self.state.phase == Phase::Paused => {
                    return Ok(Outcome::Paused { tag: self.state.tag.clone() });
                }
                Flow::Go => {}
            }
        }
    }

    /// Gives an input to the machine; what follows is in the journal before it counts. A refusal is kept to be shown.
    pub fn send(&mut self, by: &str, what: What) -> Result<bool, Fault> {
        Ok(match self.decide(by, what)? {
            Ok(()) => true,
            Err(refusal) => {
                self.refuse(&refusal);
                false
            }
        })
    }

    pub fn decide(&mut self, by: &str, what: What) -> Result<Result<(), Refusal>, Fault> {
        self.decide_as(by, Origin::Typed, what)
    }

    pub fn decide_as(&mut self, by: &str, origin: Origin, what: What) -> Result<Result<(), Refusal>, Fault> {
        self.console.rest().map_err(|error| terminal_fault(&error))?;
        self.record(by, origin, what)
    }

    /// What was read earlier, and is entered now.
    pub fn decide_late(
        &mut self,
        by: &str,
        origin: Origin,
        what: What,
        at: DateTime,
    ) -> Result<Result<(), Refusal>, Fault> {
        self.console.rest().map_err(|error| terminal_fault(&error))?;
        let now = (self.clock)();
        let entered_at = (at != now).then_some(now);
        self.give(Input { at, entered_at, by: by.to_owned(), origin, what })
    }

    /// As [`Session::decide_as`], while keys are awaited.
    pub fn record(&mut self, by: &str, origin: Origin, what: What) -> Result<Result<(), Refusal>, Fault> {
        self.give(Input { at: (self.clock)(), entered_at: None, by: by.to_owned(), origin, what })
    }

    fn give(&mut self, input: Input) -> Result<Result<(), Refusal>, Fault> {
        let records: Vec<Record> = match self.machine.decide(&self.state, &input) {
            Ok(records) => records,
            Err(refusal) => return Ok(Err(refusal)),
        };
        if records.is_empty() {
            return Ok(Ok(()));
        }
        (self.append)(&records)?;
        for record in &records {
            self.state.apply(record);
        }
        Ok(Ok(()))
    }

    pub fn refuse(&mut self, refusal: &Refusal) {
        self.refusal = vec![refusal.message.clone()];
        self.refusal.extend(refusal.expected.iter().map(|text| format!("Expected: {text}")));
        self.refusal.extend(refusal.help.iter().map(|text| format!("Do: {text}")));
    }

    /// Draws a page and waits for its answer.
    pub fn put(&mut self, page: &Page, wants: Wants, typing: &mut Typing) -> Result<Answer, Fault> {
        let mut page = page.clone();
        page.refusal = std::mem::take(&mut self.refusal);
        let mut settled = matches!(wants, Wants::Figure | Wants::Words);
        let ask = page.ask.clone();
        let mut shown = None;
        loop {
            self.listen()?;
            self.say_how_it_stands(&mut page);
            page.ask = self.asked(&ask);
            let many = matches!(wants, Wants::Choice(options) if options > 9);
            if many && !page.ask.ends_with(MANY) {
                page.ask = format!("{} {MANY}", page.ask).trim_start().to_owned();
            }
            page.line = (many || matches!(wants, Wants::Figure | Wants::Words)).then(|| typing.line.clone());
            page.escape = (wants == Wants::Words || typing.commanding).then_some(typing.commanding);
            let drawn = page.draw(self.console.columns(), self.console.colour());
            if shown.as_ref() != Some(&drawn) {
                self.console.draw(&drawn).map_err(|error| terminal_fault(&error))?;
                shown = Some(drawn);
            }
            let wait = self.ear.is_some().then_some(BEAT);
            let key = self.console.key(wait).map_err(|error| terminal_fault(&error))?;
            if key.is_none() && wait.is_some() {
                continue;
            }
            // A window of another size forgets what was drawn.
            if key == Some(Key::Resized) {
                shown = None;
            }
            let now = self.console.elapsed();
            let bounced = now.saturating_sub(std::mem::replace(&mut self.last_key, now)) < BOUNCE;
            if bounced && !settled && key != Some(Key::Interrupt) {
                continue;
            }
            settled = true;
            if let Some(answer) = key.and_then(|key| typing.key(key, wants, &page.commands)) {
                return Ok(answer);
            }
        }
    }

    /// The question, with what Enter takes from the reader.
    fn asked(&self, ask: &str) -> String {
        let Some((field, awaited)) = &self.asking else { return ask.to_owned() };
        match self.offer(field, *awaited) {
            Some(Ok(offer)) => {
                let shown = self.machine.plan.show(&standpipe_quantity::value::Value::Quantity(offer.quantity));
                let past = if offer.fits { "" } else { ", gone past" };
                format!("Enter takes {shown}{past}, or type it:")
            }
            Some(Err(why)) if why.is_empty() => "Enter takes it once it is inside, or type it:".to_owned(),
            _ => ask.to_owned(),
        }
    }

    /// A page of the job itself rather than of one of its steps.
    pub fn page(&self, title: &str, facts: Vec<String>, commands: &[Command]) -> Page {
        Page {
            header: self.setting.header(&self.state),
            title: title.to_owned(),
            facts,
            commands: commands.to_vec(),
            ..Page::default()
        }
    }

    /// Asks for a line of words, beginning with some; `None` when it was left with Esc. Nothing typed is no answer.
    pub fn words(&mut self, mut page: Page, ask: &str, begun: &str) -> Result<Result<Option<String>, Outcome>, Fault> {
        page.ask = format!("{ask} (Esc: leave it)");
        page.commands.clear();
        page.choices.clear();
        let mut typing = Typing::new(begun);
        loop {
            match self.put(&page, Wants::Words, &mut typing)? {
                Answer::Interrupted => return Ok(Err(Outcome::Interrupted)),
                Answer::Typed(text) if text.is_empty() => self.refusal = vec!["nothing was typed".to_owned()],
                Answer::Typed(text) => return Ok(Ok(Some(text))),
                _ => return Ok(Ok(None)),
            }
        }
    }

    /// Keeps a file as evidence; what is wrong with it is shown with the next page.
    pub fn kept(&mut self, typed: &str) -> Option<EvidenceRef> {
        match (self.keep)(Path::new(&path_of(typed))) {
            Ok(evidence) => Some(evidence),
            Err(diagnostic) => {
                self.refusal = vec![diagnostic.message];
                self.refusal.extend(diagnostic.help.map(|text| format!("Do: {text}")));
                None
            }
        }
    }
}

/// A path as a terminal pastes a file that is dropped on it: in quotes, or with spaces escaped.
pub(super) fn path_of(typed: &str) -> String {
    let typed = typed.trim();
    for quote in ['\'', '"'] {
        if let Some(inner) = typed.strip_prefix(quote).and_then(|rest| rest.strip_suffix(quote)) {
            return inner.to_owned();
        }
    }
    typed.replace("\\ ", " ")
}

pub(super) fn terminal_fault(error: &std::io::Error) -> Fault {
    let place = Place::whole(&Source::new("<terminal>", ""));
    Box::new(
        Diagnostic::error(Code::UnreadableFile, &place, format!("the terminal can't be used: {error}"))
            .help("what was entered is saved; run the same command again to go on"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dropped_file_is_found_by_its_path() {
        assert_eq!(path_of("'/a b/c.jpg' "), "/a b/c.jpg");
        assert_eq!(path_of("/a\\ b/c.jpg"), "/a b/c.jpg");
        assert_eq!(path_of("c.jpg"), "c.jpg");
    }
}
