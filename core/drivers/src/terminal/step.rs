//! One step at the terminal: its values one after the other, a witness, a photo, and then the entry.

use std::time::Duration;

use jiff::ToSpan;
use jiff::civil::Date;

use super::Outcome;
use super::held::{Held, left, typed};
use super::key::Key;
use super::page::Page;
use super::question::{Answer, Command, Typing, Wants};
use super::screen::{ask, choices, is_said_by_the_title, step_page};
use super::session::{Fault, Flow, Giving, Session, terminal_fault};
use crate::draft::{Draft, Stage};
use crate::live_reader::NoOffer;
use crate::setting::Choice;
use standpipe_job::{AnswerKind, Origin, Pending, Prompt, PromptField, Refusal, What};

impl Session<'_> {
    pub(super) fn step(&mut self, prompt: &Prompt) -> Result<Flow, Fault> {
        if self.draft.asks != prompt.asks {
            self.draft = Draft::new(prompt, self.setting().people().len() == 1);
            self.typing = Typing::default();
        }
        let Some(stage) = self.draft.stage() else { return self.enter(prompt) };
        let mut page = step_page(prompt, &self.setting().header(self.job.state()));
        page.given =
            self.draft.so_far(prompt, &|id| self.setting().name_of(id), &|id| self.setting().instrument(id).name);
        match stage {
            Stage::With(index) => self.with(prompt, index, page),
            Stage::Scale(index) => self.scale(prompt, index, page),
            Stage::Field(index) => self.field(prompt, index, page),
            Stage::Witness => self.witness(prompt, page),
            Stage::Photo => self.photo(prompt, page),
        }
    }

    /// The entry is complete: to the machine with it.
    fn enter(&mut self, prompt: &Prompt) -> Result<Flow, Fault> {
        let by = self.draft.signer.clone().unwrap_or_else(|| self.who.clone());
        let read =
            !self.draft.read.is_empty() && self.draft.typed.keys().all(|name| self.draft.read.contains_key(name));
        if let Some(rows) = self.reader.as_ref().and_then(|reader| reader.rows_for(prompt, self.draft.read.clone())) {
            self.draft.rows = Some(rows);
        }
        let logged = self.draft.logged.clone();
        let of_log =
            logged.as_ref().is_some_and(|it| self.draft.typed.keys().all(|name| it.read.values.contains_key(name)));
        self.draft.rows = self.draft.rows.take().or(logged.as_ref().map(|it| Box::new(it.read.clone())));
        let origin = if read || of_log { Origin::Log } else { Origin::Typed };
        self.giving = Giving::Entry;
        let entry = What::Enter(self.draft.entry(prompt));
        Ok(self.give_read(&by, origin, entry, logged.map(|logged| logged.at)))
    }

    /// The entry was refused: back to what it does not fit.
    pub(super) fn back_to(&mut self, refusal: &Refusal) {
        if let Pending::Entry(prompt) = self.job.pending() {
            self.draft.refused(&prompt, refusal);
            self.typing = Typing::whole(self.draft.recalled(&prompt));
        }
        self.refuse(refusal);
    }

    /// On to the next stage of the entry.
    pub(super) fn move_on(&mut self, prompt: &Prompt) {
        self.draft.next();
        self.recall(prompt);
    }

    fn recall(&mut self, prompt: &Prompt) {
        self.typing = Typing::whole(self.draft.recalled(prompt));
    }

    fn with(&mut self, prompt: &Prompt, index: usize, mut page: Page) -> Result<Flow, Fault> {
        let field = &prompt.fields[index];
        let kind = field.with.as_deref().unwrap_or("instrument").replace('-', " ");
        page.ask = format!("With which {kind}?");
        page.choices = field.instruments.iter().map(|id| self.setting().instrument(id)).collect();
        self.pick(prompt, &page, |session, picked| {
            session.draft.use_instrument(prompt, index, &field.instruments[picked]);
            session.move_on(prompt);
        })
    }

    fn scale(&mut self, prompt: &Prompt, index: usize, mut page: Page) -> Result<Flow, Fault> {
        let field = &prompt.fields[index];
        let Some(kind) = &field.end_of else { return Ok(Flow::Go) };
        page.ask = format!("Which {}?", kind.replace('-', " "));
        let known: Vec<&String> = field.ends.keys().collect();
        page.choices = known.iter().map(|id| self.setting().instrument(id)).collect();
        page.choices.push(Choice { name: "another".to_owned(), meaning: Some("its scale is typed".to_owned()) });
        self.pick(prompt, &page, |session, picked| {
            session.draft.scales.insert(kind.clone(), known.get(picked).map(|id| (*id).clone()));
            session.move_on(prompt);
        })
    }

    fn field(&mut self, prompt: &Prompt, index: usize, mut page: Page) -> Result<Flow, Fault> {
        let field = &prompt.fields[index];
        let name = field.name.clone();
        if let (Some(seconds), AnswerKind::Held) = (prompt.hold, field.kind) {
            return self.hold(prompt, &name, seconds, page);
        }
        let instrument = self.draft.with.get(&name);
        let unit = field.unit.clone().or_else(|| self.setting().unit_of(instrument?));
        let shown = unit.as_deref().map(|unit| self.setting().symbol(unit));
        page.ask = ask(field, shown.as_deref());
        if is_today(field) {
            page.ask = format!("{} Enter takes today, {}.", page.ask, (self.clock)().date());
        }
        if prompt.fields.len() == 1 && is_said_by_the_title(field) {
            page.ask.clear();
        }
        if field.kind == AnswerKind::Done {
            if prompt.may_take_the_rest() && prompt.count.is_some_and(|(at, all)| at < all) {
                page.commands.push(Command::Rest);
            }
            let answer = self.put(&page, Wants::Confirm, &mut Typing::default())?;
            return self.answered(prompt, answer, |session, answer| {
                session.draft.rest |= answer == Answer::Command(Command::Rest);
                session.draft.typed.insert(name, String::new());
                session.move_on(prompt);
            });
        }
        if !field.options.is_empty() {
            page.choices = choices(field);
            return self.pick(prompt, &page, |session, picked| {
                let id = field.options[picked].0.clone();
                session.draft.signer = (field.kind == AnswerKind::Signature).then(|| id.clone());
                session.draft.typed.insert(name, id);
                session.move_on(prompt);
            });
        }
        let wants = match field.kind {
            AnswerKind::Quantity | AnswerKind::Count | AnswerKind::Date | AnswerKind::Held => Wants::Figure,
            _ => Wants::Words,
        };
        page.said = self.setting().said_before(self.job.state(), field);
        page.offered = self.draft.offered(prompt);
        let awaited = prompt.within.is_some();
        if self.takes_a_log(prompt, field) {
            page.commands.push(Command::Log);
        }
        self.asking = (field.kind == AnswerKind::Quantity).then(|| (field.clone(), awaited));
        let flow =
            self.line(prompt, page, wants, |session, typed| session.value(prompt, field, typed, unit.as_deref()));
        self.asking = None;
        flow
    }

    fn value(&mut self, prompt: &Prompt, field: &PromptField, mut typed: String, unit: Option<&str>) {
        self.draft.read.shift_remove(&field.name);
        self.draft.unlog(&field.name);
        let offered = self.draft.offered(prompt);
        if typed.is_empty() && !offered.is_empty() {
            self.draft.take(&offered);
            return self.recall(prompt);
        }
        if field.end_of.is_some() {
            self.draft.with.shift_remove(&field.name);
        }
        if typed.is_empty() && is_today(field) {
            typed = (self.clock)().date().to_string();
        }
        if let Some(day) = days_on(field, &typed, (self.clock)().date()) {
            typed = day.to_string();
        }
        if typed.is_empty() && field.kind == AnswerKind::Quantity {
            let reader = self.reader.as_ref();
            let awaited = prompt.within.is_some();
            match reader.and_then(|reader| reader.offer(self.job, field, awaited, self.seconds())) {
                Some(Ok(offer)) => {
                    self.draft.read.insert(field.name.clone(), offer.taken.clone());
                    self.draft.typed.insert(field.name.clone(), offer.typed.clone());
                    return self.move_on(prompt);
                }
                Some(Err(none)) if none == NoOffer::NotYet || !field.optional => return self.refuse(&none.refusal()),
                _ => {}
            }
        }
        match self.setting().check(&prompt.address.step, &field.name, &typed, unit) {
            Ok(()) => {
                self.draft.typed.insert(field.name.clone(), typed);
                self.move_on(prompt);
            }
            Err(refusal) => {
                self.typing = Typing::whole(&typed);
                self.refuse(&refusal);
            }
        }
    }

    fn witness(&mut self, prompt: &Prompt, mut page: Page) -> Result<Flow, Fault> {
        let looks = prompt.witness.as_deref().unwrap_or("this");
        page.ask = format!("A second person looks now: {looks}. Who?");
        let mut people = self.setting().people();
        people.retain(|(id, _)| *id != self.who);
        if people.is_empty() {
            return self.line(prompt, page, Wants::Words, |session, typed| {
                session.draft.witness = Some(typed);
                session.move_on(prompt);
            });
        }
        page.choices = people.iter().map(|(_, name)| Choice { name: name.clone(), meaning: None }).collect();
        self.pick(prompt, &page, |session, picked| {
            session.draft.witness = Some(people[picked].0.clone());
            session.move_on(prompt);
        })
    }

    pub(super) fn pick(
        &mut self,
        prompt: &Prompt,
        page: &Page,
        taken: impl FnOnce(&mut Self, usize),
    ) -> Result<Flow, Fault> {
        let answer = self.put(page, Wants::Choice(page.choices.len()), &mut Typing::default())?;
        self.answered(prompt, answer, |session, answer| {
            if let Answer::Picked(picked) = answer {
                taken(session, picked);
            }
        })
    }

    pub(super) fn line(
        &mut self,
        prompt: &Prompt,
        page: Page,
        wants: Wants,
        taken: impl FnOnce(&mut Self, String),
    ) -> Result<Flow, Fault> {
        let mut typing = std::mem::take(&mut self.typing);
        let answer = self.put(&page, wants, &mut typing)?;
        // What was typed is still there after a note or a look at the reason.
        self.typing = typing.kept();
        self.answered(prompt, answer, |session, answer| {
            if let Answer::Typed(typed) = answer {
                taken(session, typed);
            }
        })
    }

    fn answered(
        &mut self,
        prompt: &Prompt,
        answer: Answer,
        taken: impl FnOnce(&mut Self, Answer),
    ) -> Result<Flow, Fault> {
        match answer {
            Answer::Interrupted => return Ok(Flow::End(Outcome::Interrupted)),
            Answer::Command(Command::Back) if self.draft.back() => self.recall(prompt),
            Answer::Command(Command::Attach) if prompt.evidence.is_some() => return self.attach_here(prompt),
            Answer::Command(Command::Log) => {
                let asked = self.draft.stage().and_then(|stage| match stage {
                    Stage::Field(index) => prompt.fields.get(index),
                    _ => None,
                });
                return match asked {
                    Some(field) => self.take_from_log(prompt, field),
                    None => Ok(Flow::Go),
                };
            }
            answer @ Answer::Command(Command::Rest) => taken(self, answer),
            Answer::Command(command) => return self.command(command, Some(prompt)),
            answer => taken(self, answer),
        }
        Ok(Flow::Go)
    }

    /// A countdown that starts only after "clear", can be broken off, and never answers by itself.
    fn hold(&mut self, prompt: &Prompt, name: &str, seconds: f64, mut page: Page) -> Result<Flow, Fault> {
        page.ask = format!("Everybody clear? Enter starts the {}.", left(seconds));
        match self.put(&page, Wants::Confirm, &mut Typing::default())? {
            Answer::Confirmed => {}
            answer => return self.answered(prompt, answer, |_, _| {}),
        }
        let held = match self.count_down(&page, seconds)? {
            None => return Ok(Flow::End(Outcome::Interrupted)),
            Some(held) => held,
        };
        if let Held::Whole = held {
            self.console.bell().map_err(|error| terminal_fault(&error))?;
            page.ask = format!("{} are over. Enter to go on.", left(seconds));
            match self.put(&page, Wants::Confirm, &mut Typing::default())? {
                Answer::Confirmed => {}
                answer => return self.answered(prompt, answer, |_, _| {}),
            }
        }
        self.draft.typed.insert(name.to_owned(), typed(&held, seconds));
        self.move_on(prompt);
        Ok(Flow::Go)
    }

    fn count_down(&mut self, page: &Page, seconds: f64) -> Result<Option<Held>, Fault> {
        const BEAT: Duration = Duration::from_millis(100);
        let begun = self.console.elapsed();
        let mut page = Page { commands: Vec::new(), ..page.clone() };
        let mut shown = String::new();
        loop {
            let passed = self.console.elapsed().saturating_sub(begun).as_secs_f64();
            self.listen()?;
            if passed >= seconds {
                self.cover(begun.as_secs_f64(), self.console.elapsed().as_secs_f64())?;
                return Ok(Some(Held::Whole));
            }
            let now = left(seconds - passed);
            if now != shown {
                page.ask = format!("{now} to go. {} stops it.", if is_long(seconds) { "Esc" } else { "Any key" });
                shown = now;
                self.say_how_it_stands(&mut page);
                let drawn = page.draw(self.console.room(), self.console.colour());
                self.console.draw(&drawn).map_err(|error| terminal_fault(&error))?;
            }
            match self.console.key(Some(BEAT)).map_err(|error| terminal_fault(&error))? {
                None | Some(Key::Resized) => {}
                Some(Key::Interrupt) => return Ok(None),
                Some(key) if is_long(seconds) && key != Key::Escape => {}
                Some(_) => {
                    let passed = self.console.elapsed().saturating_sub(begun).as_secs_f64();
                    return Ok(Some(Held::Part(passed.min(seconds))));
                }
            }
        }
    }
}

/// A day that has to be said is today, unless another is typed.
fn is_today(field: &PromptField) -> bool {
    field.kind == AnswerKind::Date && !field.optional
}

/// `+14`: so many days from today. What is entered is the day.
fn days_on(field: &PromptField, typed: &str, today: Date) -> Option<Date> {
    let days: u16 = typed.strip_prefix('+').filter(|_| field.kind == AnswerKind::Date)?.trim().parse().ok()?;
    today.checked_add(i32::from(days).days()).ok()
}

/// A few seconds are broken off by whatever is within reach. What takes minutes is not lost to a sleeve on the keys.
fn is_long(seconds: f64) -> bool {
    seconds >= 30.0
}
