//! What can be done beside answering: look back, correct, note, photo, pause, why, stop and call, leave.

use super::Outcome;
use super::page::Page;
use super::question::{Answer, Command, Typing, Wants};
use super::screen::step_page;
use super::session::{Again, Fault, Flow, Session};
use crate::setting::Choice;
use crate::setting::Entered;
use standpipe_job::{Event, Prompt, What};

/// As many entries as fit on a page with what they are, and a way to older ones.
const ENTRIES: usize = 6;
/// Why what was just pressed is another: Enter keeps it as the reason, and anything else can be typed.
const BY_MISTAKE: &str = "pressed by mistake";

impl Session<'_> {
    pub(super) fn command(&mut self, command: Command, prompt: Option<&Prompt>) -> Result<Flow, Fault> {
        match command {
            // A call that was pressed by mistake is the one thing that can be gone back on.
            Command::Back if self.job.machine().can_take_back(self.job.state()) => Ok(self.give(What::TakeBack)),
            Command::Back => match self.just_pressed() {
                Some(entered) => self.correction(entered, String::new(), BY_MISTAKE.to_owned()),
                None => self.correct(),
            },
            Command::Correct => self.correct(),
            Command::Note => self.with_words("Write a note", "Note", |session, text| session.give(What::Note(text))),
            Command::Attach => self.attach(),
            Command::Pause => Ok(self.give(What::Pause)),
            Command::Why => self.why(prompt),
            Command::Stop => self.stop_and_call(),
            Command::Leave => self.leave(),
            // Of a value that is asked, and of nothing else.
            Command::Log | Command::Rest => Ok(Flow::Go),
            Command::Skip => self.with_words("Leave this step out", "Why is it left out?", |session, because| {
                session.give(What::Skip { because })
            }),
            Command::Abandon => self.abandon(),
        }
    }

    fn attach(&mut self) -> Result<Flow, Fault> {
        let page = self.page("Attach a photo", Vec::new(), &[]);
        Ok(match self.chosen(page)? {
            Err(outcome) => Flow::End(outcome),
            Ok(path) => match path.and_then(|path| self.kept(&path)) {
                Some(evidence) => self.give(What::Attach(evidence)),
                None => Flow::Go,
            },
        })
    }

    /// Nothing brings an ended job back: a sentence typed on the wrong page must not end one.
    fn abandon(&mut self) -> Result<Flow, Fault> {
        let title = "End the job unfinished";
        let page = self.page(title, Vec::new(), &[]);
        let because = match self.words(page, "Why does it end here?", "")? {
            Err(outcome) => return Ok(Flow::End(outcome)),
            Ok(None) => return Ok(Flow::Go),
            Ok(Some(because)) => because,
        };
        let facts = vec![format!("Because: {because}"), "It can't be resumed afterwards.".to_owned()];
        let mut page = self.page(title, facts, &[Command::Back]);
        page.choices = ["go on with the job", "end it for good"]
            .map(|name| Choice { name: name.to_owned(), meaning: None })
            .into();
        match self.put(&page, Wants::Choice(2), &mut Typing::default())? {
            Answer::Interrupted => Ok(Flow::End(Outcome::Interrupted)),
            Answer::Picked(1) => Ok(self.give(What::Abandon { because })),
            _ => Ok(Flow::Go),
        }
    }

    fn with_words(
        &mut self,
        title: &str,
        ask: &str,
        then: impl FnOnce(&mut Self, String) -> Flow,
    ) -> Result<Flow, Fault> {
        let page = self.page(title, Vec::new(), &[]);
        match self.words(page, ask, "")? {
            Err(outcome) => Ok(Flow::End(outcome)),
            Ok(None) => Ok(Flow::Go),
            Ok(Some(text)) => Ok(then(self, text)),
        }
    }

    /// The value that was entered last, if nothing else was entered with it or after it.
    fn just_pressed(&self) -> Option<Entered> {
        let last = self.job.records().iter().rfind(|record| matches!(record.event, Event::Entered { .. }))?.seq;
        let entries = self.setting().entries(self.job.state());
        let mut of_it = entries.into_iter().filter(|entered| entered.seq == last);
        of_it.next().filter(|_| of_it.next().is_none())
    }

    /// The entries, the last first; one of them can be corrected. The old value stays in the journal.
    fn correct(&mut self) -> Result<Flow, Fault> {
        let entries = self.setting().entries(self.job.state());
        if entries.is_empty() {
            self.refusal = vec!["nothing has been entered yet that could be corrected".to_owned()];
            return Ok(Flow::Go);
        }
        let mut from = 0;
        let picked = loop {
            let shown = &entries[from..entries.len().min(from + ENTRIES)];
            let mut page = self.page("What was entered", Vec::new(), &[Command::Back]);
            page.ask = "Correct which? What depends on it is worked out again.".to_owned();
            page.choices = shown.iter().map(choice_of).collect();
            let older = from + ENTRIES < entries.len();
            if older {
                page.choices.push(Choice { name: "older ones".to_owned(), meaning: None });
            }
            match self.put(&page, Wants::Choice(page.choices.len()), &mut Typing::default())? {
                Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
                Answer::Picked(picked) if picked == ENTRIES => from += ENTRIES,
                Answer::Picked(picked) => break shown[picked].clone(),
                _ if from > 0 => from -= ENTRIES,
                _ => return Ok(Flow::Go),
            }
        };
        self.correction(picked, String::new(), String::new())
    }

    /// A new value for an entry, and why; once more with what was typed, if that was refused.
    pub(super) fn correction(
        &mut self,
        entered: Entered,
        mut value: String,
        mut because: String,
    ) -> Result<Flow, Fault> {
        let facts = vec![format!("{}: {}", entered.title, entered.shown)];
        let page = self.page(&format!("Correct {}", entered.name.replace('_', " ")), facts, &[]);
        loop {
            value = match self.new_value(&page, &entered, &value)? {
                Err(outcome) => return Ok(Flow::End(outcome)),
                Ok(None) => return Ok(Flow::Go),
                Ok(Some(value)) => value,
            };
            let unit = entered.unit.as_deref();
            if let Err(refusal) = self.setting().check(&entered.address.step, &entered.name, &value, unit) {
                self.refuse(&refusal);
                continue;
            }
            because = match self.words(page.clone(), "Why was it wrong?", &because)? {
                Err(outcome) => return Ok(Flow::End(outcome)),
                Ok(None) => return Ok(Flow::Go),
                Ok(Some(because)) => because,
            };
            let values = std::iter::once((entered.name.clone(), value.clone())).collect();
            let what = What::Correct { entry: Some(entered.seq), values, because: because.clone() };
            self.again = Some(Again::Correction { entered: Box::new(entered), value, because });
            return Ok(self.give(what));
        }
    }

    /// Typed, or chosen where it is one of a few.
    fn new_value(
        &mut self,
        page: &Page,
        entered: &Entered,
        begun: &str,
    ) -> Result<Result<Option<String>, Outcome>, Fault> {
        let options = &entered.field.options;
        if options.is_empty() {
            let page = Page {
                facts: [page.facts.clone(), vec![format!("Expected: {}.", entered.expected)]].concat(),
                ..page.clone()
            };
            return self.words(page, "New value", begun);
        }
        let mut page = Page { commands: vec![Command::Back], ..page.clone() };
        page.ask = "What should it be?".to_owned();
        page.choices = super::screen::choices(&entered.field);
        Ok(match self.put(&page, Wants::Choice(options.len()), &mut Typing::default())? {
            Answer::Interrupted => Err(Outcome::Interrupted),
            Answer::Picked(picked) => Ok(Some(options[picked].0.clone())),
            _ => Ok(None),
        })
    }

    /// The reason, and all that did not fit on the page of the step.
    fn why(&mut self, prompt: Option<&Prompt>) -> Result<Flow, Fault> {
        let mut page = self.page("", Vec::new(), &[]);
        if let Some(prompt) = prompt {
            let mut full = step_page(prompt, &page.header);
            full.choices = prompt.fields.first().map(super::screen::choices).unwrap_or_default();
            page.title = prompt.title.clone();
            page.doing =
                vec![prompt.why.clone().unwrap_or_else(|| "The procedure gives no reason for this step.".to_owned())];
            (page.round, page.position) = (full.round, full.position);
            // It stands above.
            full.title.clear();
            return self.read_on(&page, full.in_full(self.console.room().columns));
        }
        page.title = "Nothing more to say here".to_owned();
        self.read_on(&page, Vec::new())
    }

    /// Text that may be longer than a page, one page after the other.
    fn read_on(&mut self, page: &Page, lines: Vec<String>) -> Result<Flow, Fault> {
        let all = self.console.room();
        let room = all.lines.saturating_sub(page.draw(all, false).lines.len() + 1);
        let mut chunks = lines.chunks(room.max(1)).peekable();
        loop {
            let chunk = chunks.next().unwrap_or_default();
            let more = chunks.peek().is_some();
            let mut page = page.clone();
            page.laid_out = chunk.to_vec();
            page.ask = if more { "Any key: read on." } else { "Any key: back to the step." }.to_owned();
            if let Answer::Interrupted = self.put(&page, Wants::AnyKey, &mut Typing::default())? {
                return Ok(Flow::End(Outcome::Interrupted));
            }
            if !more {
                return Ok(Flow::Go);
            }
        }
    }

    fn stop_and_call(&mut self) -> Result<Flow, Fault> {
        let reachable = self.setting().reachable();
        let mut page = self.page(
            "Stop, make it safe",
            Vec::new(),
            &[Command::Skip, Command::Abandon, Command::Pause, Command::Back],
        );
        page.ask =
            if reachable.is_empty() { "The plan has no procedure to call." } else { "What is wrong?" }.to_owned();
        page.choices = reachable.iter().map(|(_, title)| Choice { name: title.clone(), meaning: None }).collect();
        match self.put(&page, Wants::Choice(reachable.len()), &mut Typing::default())? {
            Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
            Answer::Picked(picked) => {
                return Ok(self.give(What::Call { procedure: reachable[picked].0.clone() }));
            }
            Answer::Command(command @ (Command::Skip | Command::Abandon | Command::Pause)) => {
                return self.command(command, None);
            }
            _ => {}
        }
        Ok(Flow::Go)
    }

    fn leave(&mut self) -> Result<Flow, Fault> {
        let facts = vec![
            "All that was entered is saved. Without a pause nobody is told what is open,".to_owned(),
            "no tag is printed, and whoever goes on is asked again for what may have changed.".to_owned(),
        ];
        let mut page = self.page("Leave without a pause", facts, &[Command::Leave, Command::Pause, Command::Back]);
        page.ask = "q again leaves, p pauses, any other key goes back.".to_owned();
        match self.put(&page, Wants::AnyKey, &mut Typing::default())? {
            Answer::Interrupted => Ok(Flow::End(Outcome::Interrupted)),
            Answer::Command(Command::Leave) => Ok(Flow::End(Outcome::Left)),
            Answer::Command(Command::Pause) => self.command(Command::Pause, None),
            _ => Ok(Flow::Go),
        }
    }
}

fn choice_of(entered: &Entered) -> Choice {
    Choice {
        name: format!("{} {}", entered.name.replace('_', " "), entered.shown),
        meaning: Some(format!("{}  {}", entered.at.strftime("%H:%M"), entered.title)),
    }
}
