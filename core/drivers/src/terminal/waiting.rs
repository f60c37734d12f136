//! What a job waits for when it is not an entry: someone who accepts, a fact, a correction, a person who goes on.

use super::Outcome;
use super::page::Page;
use super::question::{Answer, Command, Typing, Wants};
use super::session::{Again, Fault, Flow, Session};
use crate::setting::Choice;
use standpipe_diagnostic::columns::capital;
use standpipe_job::{Pending, What};

/// What is left when a step can't be answered.
const HELD: &[Command] =
    &[Command::Back, Command::Correct, Command::Note, Command::Attach, Command::Pause, Command::Stop, Command::Leave];

impl Session<'_> {
    /// Who sits at the terminal, where nobody said so.
    pub(super) fn who_is_there(&mut self) -> Result<Flow, Fault> {
        let people = self.setting().people();
        let mut page = self.page("Say who you are", Vec::new(), &[]);
        let answer = if people.is_empty() {
            page.ask = "Name:".to_owned();
            self.put(&page, Wants::Words, &mut Typing::default())?
        } else {
            page.choices = people.iter().map(|(_, name)| Choice { name: name.clone(), meaning: None }).collect();
            self.put(&page, Wants::Choice(people.len()), &mut Typing::default())?
        };
        match answer {
            Answer::Picked(picked) => self.who.clone_from(&people[picked].0),
            Answer::Typed(name) if !name.is_empty() => self.who = name,
            Answer::Typed(_) => return self.who_is_there(),
            Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
            _ => return Ok(Flow::End(Outcome::Left)),
        }
        Ok(Flow::Go)
    }

    /// Someone in one of these roles may go on over a verdict, with a reason; anybody may correct what was wrong.
    pub(super) fn acceptance(
        &mut self,
        title: &str,
        because: &str,
        mut shown: Vec<String>,
        roles: &[String],
    ) -> Result<Flow, Fault> {
        let people = self.setting().people_in(roles);
        shown.push(capital(because));
        let mut page = self.page(title, shown, HELD);
        page.ask = if people.is_empty() {
            format!("Only someone in the role {} may accept it; the shop has nobody.", roles.join(" or "))
        } else {
            format!("Stopped. To be accepted, with a reason, by {}:", roles.join(" or "))
        };
        page.choices = people.iter().map(|(_, name)| Choice { name: name.clone(), meaning: None }).collect();
        let picked = match self.put(&page, Wants::Choice(people.len()), &mut Typing::default())? {
            Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
            Answer::Command(command) => return self.command(command, None),
            Answer::Picked(picked) => picked,
            _ => return Ok(Flow::Go),
        };
        let (id, name) = &people[picked];
        match self.words(page, &format!("{name} accepts it, because"), "")? {
            Err(outcome) => return Ok(Flow::End(outcome)),
            Ok(None) => {}
            Ok(Some(because)) => return Ok(self.give_as(id, What::Accept { because })),
        }
        Ok(Flow::Go)
    }

    /// Nobody may go on over this.
    pub(super) fn stopped(&mut self, title: &str, because: &str, mut shown: Vec<String>) -> Result<Flow, Fault> {
        shown.push(capital(because));
        let mut page = self.page(title, shown, HELD);
        page.ask = "Stopped. c if the entry was wrong, x to call for help; x, then e ends the job.".to_owned();
        self.only_commands(&page)
    }

    pub(super) fn faulted(&mut self, message: &str, place: &str) -> Result<Flow, Fault> {
        let facts = vec![message.to_owned(), format!("At {place}.")];
        let mut page = self.page("The plan has a fault here", facts, HELD);
        page.ask = "The job can't go on until the procedure is mended. What was entered is saved.".to_owned();
        self.only_commands(&page)
    }

    fn only_commands(&mut self, page: &Page) -> Result<Flow, Fault> {
        match self.put(page, Wants::Choice(0), &mut Typing::default())? {
            Answer::Interrupted => Ok(Flow::End(Outcome::Interrupted)),
            Answer::Command(command) => self.command(command, None),
            _ => Ok(Flow::Go),
        }
    }

    /// Facts that nobody has entered: supplied with a source, or the step is left out.
    pub(super) fn facts(&mut self, title: &str, missing: &[String]) -> Result<Flow, Fault> {
        let mut page = self.facts_page(title);
        let questions: Vec<(String, String)> = missing.iter().map(|path| self.setting().question_of(path)).collect();
        let picked = match missing {
            // One alone is asked at once.
            [_] => 0,
            _ => {
                page.ask = "Supply which, with its source?".to_owned();
                page.choices = questions.iter().map(|(name, _)| Choice { name: name.clone(), meaning: None }).collect();
                match self.put(&page, Wants::Choice(missing.len()), &mut Typing::default())? {
                    Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
                    Answer::Command(command) => return self.command(command, None),
                    Answer::Picked(picked) => picked,
                    _ => return Ok(Flow::Go),
                }
            }
        };
        self.fact_on(page, &missing[picked], String::new(), String::new())
    }

    /// One fact again that was refused, with what was typed.
    pub(super) fn fact(&mut self, path: &str, typed: String, source: String) -> Result<Flow, Fault> {
        let Pending::Facts { title, .. } = self.job.pending() else { return Ok(Flow::Go) };
        let page = self.facts_page(&title);
        self.fact_on(page, path, typed, source)
    }

    fn facts_page(&self, title: &str) -> Page {
        let mut commands = HELD.to_vec();
        commands.insert(commands.len() - 1, Command::Skip);
        let facts = vec!["This step needs what nobody has entered. It is never guessed.".to_owned()];
        self.page(title, facts, &commands)
    }

    fn fact_on(&mut self, mut page: Page, path: &str, typed: String, mut source: String) -> Result<Flow, Fault> {
        page.choices.clear();
        let (question, expected) = self.setting().question_of(path);
        page.facts.push(format!("Expected: {expected}."));
        let mut typing = Typing::whole(&typed);
        loop {
            page.ask.clone_from(&question);
            let typed = match self.put(&page, Wants::Words, &mut typing)? {
                Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
                Answer::Command(command) => return self.command(command, None),
                Answer::Typed(typed) => typed,
                _ => return Ok(Flow::Go),
            };
            if typed.is_empty() {
                self.refusal = vec!["nothing was typed".to_owned()];
                continue;
            }
            if let Err(unfit) = self.job.plan().read_fact(path, &typed) {
                self.refusal = vec![unfit.message];
                continue;
            }
            source = match self.words(page.clone(), "From where? Document, its date, who looked it up", &source)? {
                Err(outcome) => return Ok(Flow::End(outcome)),
                Ok(None) => return Ok(Flow::Go),
                Ok(Some(source)) => source,
            };
            let path = path.to_owned();
            self.again = Some(Again::Fact { path: path.clone(), typed: typed.clone(), source: source.clone() });
            return Ok(self.give(What::Supply { path, typed, source }));
        }
    }

    /// The tag of the pause comes first; who goes on does so by name, after looking.
    pub(super) fn resume(&mut self) -> Result<Flow, Fault> {
        let mut facts = self.job.state().tag.clone();
        let actor = self.job.state().actor.clone().unwrap_or_default();
        if facts.is_empty() || self.job.state().phase != standpipe_job::Phase::Paused {
            facts = vec!["It was left without a pause. Look before you touch it: what has changed?".to_owned()];
        }
        if let Some(at) = self.job.state().at {
            facts.push(format!("Last entry by {}, {}.", self.setting().name_of(&actor), at.strftime("%Y-%m-%d %H:%M")));
        }
        let me = self.setting().name_of(&self.who);
        let mut page = self.page("Look at the work, then go on", facts, &[Command::Note, Command::Leave]);
        page.ask = if self.setting().looks_first() {
            format!("Enter: {me} has a look at it.")
        } else if actor == self.who {
            format!("Enter: {me} goes on with it.")
        } else {
            let from = self.setting().name_of(&actor);
            format!("Enter: {me} has looked and takes it over from {}.", from.trim_end_matches('.'))
        };
        match self.put(&page, Wants::Confirm, &mut Typing::default())? {
            Answer::Interrupted => Ok(Flow::End(Outcome::Interrupted)),
            Answer::Command(Command::Leave) => Ok(Flow::End(Outcome::Left)),
            Answer::Command(command) => self.command(command, None),
            _ => Ok(self.give(What::Resume)),
        }
    }
}
