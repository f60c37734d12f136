//! The loop: what the job waits for, asked at the terminal and given to the machine, until it ends or somebody leaves.

use std::path::{Path, PathBuf};
use std::time::Duration;

use standpipe_job::Moment;

use super::console::Console;
use super::ear::BEAT;
use super::key::Key;
use super::page::Page;
use super::question::{Answer, Command, Typing, Wants};
use super::{Ended, Outcome};
use crate::draft::Draft;
use crate::drive::{Driver, drive};
use crate::live_reader::{LiveReader, NoOffer};
use crate::logs::Logs;
use crate::setting::{Entered, Setting};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::{
    EvidenceRef, Given, Kept, NotKept, OpenJob, Origin, Pending, Phase, PromptField, Refusal, What, When,
};

pub(super) type Fault = Box<Diagnostic>;

/// After one thing was asked: go on with the job, give it something, or leave it.
#[derive(Debug)]
pub(super) enum Flow {
    Go,
    Give(Box<Given>),
    End(Outcome),
}

/// What was typed and refused, to be asked again with what was typed.
pub(super) enum Again {
    Correction { entered: Box<Entered>, value: String, because: String },
    Fact { path: String, typed: String, source: String },
}

pub(super) struct Session<'a> {
    pub job: &'a mut OpenJob,
    pub clock: &'a dyn Fn() -> Moment,
    pub who: String,
    pub console: &'a mut dyn Console,
    /// Why the last answer was not taken; shown with the next page.
    pub refusal: Vec<String>,
    pub draft: Draft,
    /// The answer to the present stage of the draft, as far as it is typed.
    pub typing: Typing,
    pub again: Option<Again>,
    /// When the last key came, as the console counts.
    pub last_key: Duration,
    /// A reader that is followed.
    pub reader: Option<LiveReader>,
    /// The value that is asked now, if a reader could give it; and whether it is waited for.
    pub asking: Option<(PromptField, bool)>,
    /// Logs that values were taken from.
    pub logs: Logs,
    /// The folder that photos were chosen from.
    pub photos: Option<PathBuf>,
    pub sitting: Sitting,
    pub giving: Giving,
    /// How it ends, or why: something could not be kept, and it was no refusal.
    pub left: Option<Result<Outcome, Fault>>,
}

/// What is given to the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Giving {
    /// What needs nobody: the opening, and time that passes.
    Opening,
    /// The entry that was made as a draft.
    Entry,
    Other,
}

/// How far a sitting has got.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Sitting {
    /// Nobody has said yet who works.
    #[default]
    New,
    Begun,
    /// Something was asked and answered.
    UnderWay,
}

/// A key that comes sooner after the one before it is still that key held down, or bouncing: it answers no new page.
const BOUNCE: Duration = Duration::from_millis(120);

/// Said where one key is not enough.
const MANY: &str = "(number, then Enter)";

impl<'a> Session<'a> {
    pub fn new(
        job: &'a mut OpenJob,
        clock: &'a dyn Fn() -> Moment,
        console: &'a mut dyn Console,
        who: String,
        reader: Option<LiveReader>,
    ) -> Self {
        Self {
            job,
            clock,
            who,
            console,
            refusal: Vec::new(),
            draft: Draft::default(),
            typing: Typing::default(),
            again: None,
            last_key: Duration::ZERO,
            reader,
            asking: None,
            logs: Logs::default(),
            photos: None,
            sitting: Sitting::New,
            giving: Giving::Other,
            left: None,
        }
    }

    pub fn run(mut self) -> Result<Ended, Fault> {
        let clock = self.clock;
        let outcome = drive(&mut self, clock);
        self.console.rest().map_err(|error| terminal_fault(&error))?;
        Ok(Ended { outcome: outcome?, who: self.who })
    }

    pub fn setting(&self) -> Setting<'_> {
        Setting { machine: self.job.machine() }
    }

    /// Who sits here: asked where nobody said so.
    fn begin(&mut self) -> Result<Flow, Fault> {
        if self.who.is_empty()
            && let Flow::End(outcome) = self.who_is_there()?
        {
            return Ok(Flow::End(outcome));
        }
        let people = self.setting().people();
        match self.setting().person(&self.who) {
            Some(id) => self.who = id,
            None if people.is_empty() => {}
            None => {
                let ids: Vec<String> = people.into_iter().map(|(id, _)| id).collect();
                let unknown =
                    Refusal::new(Code::UnknownPerson, format!("the shop file names nobody called `{}`", self.who))
                        .expected(format!("one of: {}", ids.join(", ")));
                return Ok(Flow::End(Outcome::Refused(unknown)));
            }
        }
        self.sitting = Sitting::Begun;
        if self.job.state().phase != Phase::New {
            return Ok(Flow::Go);
        }
        self.giving = Giving::Opening;
        Ok(self.give(What::Open))
    }

    /// One thing asked, or what an answer left open.
    fn turn(&mut self) -> Result<Flow, Fault> {
        let before = std::mem::replace(&mut self.giving, Giving::Other);
        if self.sitting == Sitting::New {
            return self.begin();
        }
        // A pause is the end of this sitting: the tag is printed, whoever comes next resumes.
        if self.sitting == Sitting::UnderWay && self.job.state().phase == Phase::Paused {
            return Ok(Flow::End(Outcome::Paused { tag: self.job.state().tag.clone() }));
        }
        if self.job.is_to_be_resumed_by(&self.who) {
            return self.resume();
        }
        match self.again.take() {
            Some(Again::Correction { entered, value, because }) => return self.correction(*entered, value, because),
            Some(Again::Fact { path, typed, source }) => return self.fact(&path, typed, source),
            None => {}
        }
        match self.job.pending() {
            Pending::Entry(prompt) => self.step(&prompt),
            Pending::Acceptance { title, because, shown, roles, .. } => {
                self.acceptance(&title, &because, shown, &roles)
            }
            Pending::Stopped { title, because, shown, .. } => self.stopped(&title, &because, shown),
            Pending::Facts { title, missing, .. } => self.facts(&title, &missing),
            Pending::Fault { message, place, .. } => self.faulted(&message, &place),
            Pending::Resumption { .. } => self.resume(),
            // Nothing is asked and nothing follows: a defect, not something to be typed away.
            Pending::Opening if before == Giving::Opening => Ok(Flow::End(Outcome::Stuck)),
            Pending::Opening => {
                self.giving = Giving::Opening;
                Ok(self.give(What::Tick))
            }
            Pending::Nothing { abandoned: true } => Ok(Flow::End(Outcome::Abandoned)),
            Pending::Nothing { abandoned: false } => Ok(Flow::End(Outcome::Finished)),
        }
    }

    /// What the person at the terminal gives.
    pub fn give(&self, what: What) -> Flow {
        self.give_as(&self.who, what)
    }

    pub fn give_as(&self, by: &str, what: What) -> Flow {
        Flow::Give(Box::new(Given::typed(by, what)))
    }

    /// What was read at a time, and is entered now.
    pub fn give_read(&self, by: &str, origin: Origin, what: What, at: Option<Moment>) -> Flow {
        let when = at.filter(|at| *at != (self.clock)()).map_or(When::Now, When::Done);
        Flow::Give(Box::new(Given { id: None, on: None, via: None, by: by.to_owned(), origin, when, what }))
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
            let astray = typing.astray(wants).to_owned();
            page.ask = match astray.as_str() {
                "" => self.asked(&ask),
                astray => format!("Nothing is typed here. Enter clears: {astray}"),
            };
            let many = matches!(wants, Wants::Choice(options) if options > 9);
            if many && !page.ask.ends_with(MANY) {
                page.ask = format!("{} {MANY}", page.ask).trim_start().to_owned();
            }
            page.line = (many || matches!(wants, Wants::Figure | Wants::Words)).then(|| typing.line.clone());
            page.escape = (wants == Wants::Words || typing.commanding).then_some(typing.commanding);
            let drawn = page.draw(self.console.room(), self.console.colour());
            if shown.as_ref() != Some(&drawn) {
                self.console.draw(&drawn).map_err(|error| terminal_fault(&error))?;
                shown = Some(drawn);
            }
            let wait = self.reader.is_some().then_some(BEAT);
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
            // Nothing is taken by a key that is still the one before.
            let takes = key == Some(Key::Enter) && typing.line.is_empty() && !page.offered.is_empty();
            if bounced && (!settled || takes) && key != Some(Key::Interrupt) {
                continue;
            }
            settled = true;
            if key == Some(Key::Tab) && wants == Wants::Words {
                typing.fill(&page.said);
                continue;
            }
            if let Some(answer) = key.and_then(|key| typing.key(key, wants, &page.commands)) {
                return Ok(answer);
            }
            // The key that cleared the page does not answer it by being held down.
            settled &= astray.is_empty() || !typing.astray(wants).is_empty();
        }
    }

    /// The question, with what Enter takes from the reader.
    fn asked(&self, ask: &str) -> String {
        let Some((field, awaited)) = &self.asking else { return ask.to_owned() };
        let reader = self.reader.as_ref();
        match reader.and_then(|reader| reader.offer(self.job, field, *awaited, self.seconds())) {
            Some(Ok(offer)) => format!("Enter takes {}, or type it:", offer.words(self.job.plan())),
            Some(Err(NoOffer::NotYet)) => "Enter takes it once it is inside, or type it:".to_owned(),
            _ => ask.to_owned(),
        }
    }

    /// A page of the job itself rather than of one of its steps.
    pub fn page(&self, title: &str, facts: Vec<String>, commands: &[Command]) -> Page {
        Page {
            header: self.setting().header(self.job.state()),
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
        let mut typing = Typing::whole(begun);
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
        let place = Place::whole(&Source::new("<terminal>", ""));
        match self.job.keep(Path::new(&path_of(typed)), &place) {
            Ok(evidence) => Some(evidence),
            Err(diagnostic) => {
                self.refusal = vec![diagnostic.message];
                self.refusal.extend(diagnostic.help.map(|text| format!("Do: {text}")));
                None
            }
        }
    }
}

impl Driver for Session<'_> {
    type Left = Result<Outcome, Fault>;

    fn job(&mut self) -> &mut OpenJob {
        self.job
    }

    fn next(&mut self) -> Result<Given, Self::Left> {
        loop {
            if let Some(left) = self.left.take() {
                return Err(left);
            }
            let begins = self.sitting == Sitting::New;
            match self.turn() {
                Err(fault) => return Err(Err(fault)),
                Ok(Flow::End(outcome)) => return Err(Ok(outcome)),
                Ok(Flow::Give(given)) => {
                    if let Err(error) = self.console.rest() {
                        return Err(Err(terminal_fault(&error)));
                    }
                    return Ok(*given);
                }
                Ok(Flow::Go) if begins => {}
                Ok(Flow::Go) => self.sitting = Sitting::UnderWay,
            }
        }
    }

    fn told(&mut self, end: Result<Kept, NotKept>) {
        self.sitting = Sitting::UnderWay;
        match end {
            Ok(_) => {
                self.again = None;
                if self.giving == Giving::Entry {
                    self.draft = Draft::default();
                }
            }
            Err(NotKept::Refused(refusal)) => match self.giving {
                Giving::Opening => self.left = Some(Ok(Outcome::Refused(*refusal))),
                Giving::Entry => self.back_to(&refusal),
                Giving::Other => self.refuse(&refusal),
            },
            Err(fault) => self.left = Some(Err(unkept(fault))),
        }
    }
}

/// What is not to be mended by typing something else.
pub(super) fn unkept(fault: NotKept) -> Fault {
    Box::new(fault.at(&Place::whole(&Source::new("<terminal>", ""))))
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
